import { made } from './dom.js';
import type { Overlay } from './overlay.js';
import type { Stage } from './stage.js';

/** Prints a copy of the current picture with names and directions, since browsers do not always print a canvas. */
export function forPaper(stage: Stage, over: Overlay, host: HTMLElement): void {
  const paper = made('img', 'paper');
  paper.alt = 'The lesion in 3D as it was turned when the page was printed';
  host.after(paper);
  addEventListener('beforeprint', () => {
    if (host.clientWidth === 0) return;
    const scale = 2;
    const sheet = made('canvas', '');
    sheet.width = host.clientWidth * scale;
    sheet.height = host.clientHeight * scale;
    const ink = sheet.getContext('2d');
    if (!ink) return;
    ink.drawImage(stage.drawnNow(), 0, 0, sheet.width, sheet.height);
    ink.scale(scale, scale);
    over.paint(ink);
    paper.src = sheet.toDataURL('image/png');
  });
}
