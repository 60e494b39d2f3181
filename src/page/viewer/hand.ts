import type { ArmCamera } from './arm-camera.js';

/** Actions of pointers and keys other than turning. */
export interface Asked {
  hover(x: number, y: number): void;
  leave(): void;
  click(x: number, y: number): void;
  key(key: string): boolean;
}

const DEG_PER_PX = 0.4;
const STILL_PX = 5;

/** Mouse, touch and keyboard of the picture: one pointer turns, Shift or the right button moves, two fingers move and zoom. */
export function handle(host: HTMLElement, arm: ArmCamera, asked: Asked): void {
  const down = new Map<number, { x: number; y: number }>();
  let travelled = 0;
  let frame = 0;
  const local = (event: MouseEvent): { x: number; y: number } => {
    const box = host.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };

  host.addEventListener('pointerdown', (event) => {
    host.setPointerCapture(event.pointerId);
    down.set(event.pointerId, local(event));
    if (down.size === 1) travelled = 0;
    else travelled = Infinity;
    asked.leave();
  });
  host.addEventListener('pointermove', (event) => {
    const now = local(event);
    const before = down.get(event.pointerId);
    if (!before) {
      cancelAnimationFrame(frame);
      frame = requestAnimationFrame(() => asked.hover(now.x, now.y));
      return;
    }
    const [dx, dy] = [now.x - before.x, now.y - before.y];
    travelled += Math.hypot(dx, dy);
    if (down.size === 2) pinch(event.pointerId, now);
    else if (event.shiftKey || (event.buttons & 2) !== 0) arm.move(dx, dy);
    else if (travelled > STILL_PX) arm.turn(-dx * DEG_PER_PX, dy * DEG_PER_PX);
    down.set(event.pointerId, now);
  });
  const pinch = (id: number, now: { x: number; y: number }): void => {
    const other = [...down].find(([key]) => key !== id)?.[1];
    const own = down.get(id);
    if (!other || !own) return;
    const was = Math.hypot(own.x - other.x, own.y - other.y);
    const is = Math.hypot(now.x - other.x, now.y - other.y);
    if (was > 0 && is > 0) arm.zoom(is / was);
    arm.move((now.x - own.x) / 2, (now.y - own.y) / 2);
  };
  const up = (event: PointerEvent): void => {
    const was = down.delete(event.pointerId);
    if (was && event.type === 'pointerup' && event.button === 0 && travelled <= STILL_PX) {
      const { x, y } = local(event);
      asked.click(x, y);
    }
  };
  host.addEventListener('pointerup', up);
  host.addEventListener('pointercancel', up);
  host.addEventListener('pointerleave', (event) => {
    cancelAnimationFrame(frame);
    // A touch pointer leaves after every tap, but the reading of the tap must stay.
    if (event.pointerType !== 'touch') asked.leave();
  });
  host.addEventListener('contextmenu', (event) => event.preventDefault());
  host.addEventListener(
    'wheel',
    (event) => {
      event.preventDefault();
      const { x, y } = local(event);
      const lines = event.deltaMode === 1 ? 16 : 1;
      arm.zoom(
        Math.exp(Math.max(-120, Math.min(120, -event.deltaY * lines)) * 0.002),
        x - host.clientWidth / 2,
        y - host.clientHeight / 2,
      );
    },
    { passive: false },
  );
  host.addEventListener('keydown', (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    if (turnKey(event, arm) || asked.key(event.key)) event.preventDefault();
  });
}

const ARROWS: Readonly<Record<string, readonly [number, number]>> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

function turnKey(event: KeyboardEvent, arm: ArmCamera): boolean {
  const arrow = Object.hasOwn(ARROWS, event.key) ? ARROWS[event.key] : undefined;
  if (arrow) {
    if (event.shiftKey) arm.move(arrow[0] * 24, arrow[1] * 24);
    else arm.turn(-arrow[0] * 5, arrow[1] * 5);
    return true;
  }
  if (event.key === '+' || event.key === '=') arm.zoom(1.25);
  else if (event.key === '-' || event.key === '_') arm.zoom(0.8);
  else return false;
  return true;
}
