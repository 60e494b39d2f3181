import { measureShapes } from './shape-trials.js';
import { WHOLE_SHAPES } from './whole-shapes.js';

measureShapes(WHOLE_SHAPES.filter(({ isFine }) => isFine));
