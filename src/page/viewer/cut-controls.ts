import { byId, made, say } from './dom.js';
import { CUT_WAYS, type CutWay, type Stage } from './stage.js';

export interface CutControls {
  next(): void;
  move(by: number): void;
  choose(way: CutWay): void;
}

/** The cut plane's two controls. */
export function cutControls(stage: Stage, hasPatientAxes: boolean): CutControls {
  const way = byId<HTMLSelectElement>('cut-way');
  const depth = byId<HTMLInputElement>('cut-at');
  const words: Record<CutWay, string> = hasPatientAxes
    ? {
        off: 'no cut',
        sight: 'across the line of sight',
        z: 'axial, from the head',
        y: 'coronal, from the front',
        x: 'sagittal, from the left',
      }
    : {
        off: 'no cut',
        sight: 'across the line of sight',
        z: 'across file axis z',
        y: 'across file axis y',
        x: 'across file axis x',
      };
  for (const one of CUT_WAYS) {
    const option = made('option', '', words[one]);
    option.value = one;
    way.append(option);
  }
  const apply = (): void => {
    stage.cut = { way: way.value as CutWay, share: Number(depth.value) / 100 };
    depth.disabled = stage.cut.way === 'off';
    depth.setAttribute('aria-valuetext', `${depth.value} percent of the way`);
    stage.refresh();
  };
  const choose = (one: CutWay): void => {
    way.value = one;
    apply();
  };
  way.addEventListener('change', apply);
  depth.addEventListener('input', apply);
  return {
    choose,
    next: () => {
      choose(CUT_WAYS[(CUT_WAYS.indexOf(stage.cut.way) + 1) % CUT_WAYS.length]);
      say(`Cut: ${words[stage.cut.way]}`);
    },
    move: (by) => {
      depth.value = String(Number(depth.value) + by);
      apply();
    },
  };
}
