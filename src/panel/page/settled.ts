/** Whoever presses what has moved so shortly before has aimed at what was there. */
export const SETTLED_MS = 500;
/** Less is no other place for a finger, CSS pixels. */
const SAME_PX = 4;

interface Placed {
  readonly x: number;
  readonly y: number;
  readonly movedMs: number;
}

/** Where controls stand on the page, and when each of them moved last: a trouble that comes or goes moves what is below it. */
export class Settled {
  #placed = new WeakMap<Element, Placed>();
  #heightPx = 0;
  #scrolledPx = 0;

  /** After each drawing. @param scroller the region that they scroll in; without one, it is the page */
  look(controls: Iterable<Element>, nowMs: number, scroller?: Element): void {
    const { scrollHeight, clientHeight } = scroller ?? document.documentElement;
    const [scrolledX, scrolledY] = scroller
      ? [scroller.scrollLeft, scroller.scrollTop]
      : [scrollX, scrollY];
    // What became shorter, and is at its end, has pulled all of it down.
    const isAtEnd = scrolledY + clientHeight >= scrollHeight - 1;
    const isPulled = isAtEnd && scrollHeight < this.#heightPx && scrolledY < this.#scrolledPx;
    [this.#heightPx, this.#scrolledPx] = [scrollHeight, scrolledY];
    for (const control of controls) {
      const { left, top, width } = control.getBoundingClientRect();
      if (width === 0) {
        // In a view that is not shown.
        this.#placed.delete(control);
        continue;
      }
      const [x, y] = [left + scrolledX, top + scrolledY];
      const was = this.#placed.get(control);
      const isThere =
        was === undefined ||
        (!isPulled && Math.abs(x - was.x) <= SAME_PX && Math.abs(y - was.y) <= SAME_PX);
      const movedMs = isThere ? (was?.movedMs ?? Number.NEGATIVE_INFINITY) : nowMs;
      this.#placed.set(control, { x, y, movedMs });
    }
  }

  /** Whether it stands where it stood half a second ago. */
  isSettled(control: Element, nowMs: number): boolean {
    return nowMs - (this.#placed.get(control)?.movedMs ?? Number.NEGATIVE_INFINITY) > SETTLED_MS;
  }
}
