// Turning the box by mouse, touch and keyboard. Everything ends in view.nudge(degrees, degrees, times).

const DEGREES_A_PIXEL = 0.4;
const STEP = 7.5; // degrees a key press
const CLOSER = 1.15; // times a key press
const FRESH = 100; // ms that a hand may rest before it lets go and the box still runs on
const SLOWING = 0.93; // of the speed that is left after each 60th of a second

/** Listen on a canvas; gives back what stops it. `still()` says whether motion is unwanted. */
export function hands(canvas, view, still) {
  const stopping = new AbortController(), signal = stopping.signal;
  const down = new Map();
  canvas.style.touchAction = "none"; // else the browser scrolls after the first few pixels
  let speed = [0, 0], gliding = 0, when = 0;

  const halt = () => { cancelAnimationFrame(gliding); speed = [0, 0]; };
  const spread = () => { const [a, b] = [...down.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]); };
  const glide = () => {
    speed = speed.map((value) => value * SLOWING);
    if (Math.hypot(...speed) < 0.05) return;
    view.nudge(...speed, 1);
    gliding = requestAnimationFrame(glide);
  };

  canvas.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    halt();
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, [event.clientX, event.clientY]);
  }, { signal });

  canvas.addEventListener("pointermove", (event) => {
    const last = down.get(event.pointerId);
    if (!last) return;
    const apart = down.size === 2 ? spread() : 0;
    down.set(event.pointerId, [event.clientX, event.clientY]);
    const share = DEGREES_A_PIXEL / down.size;
    const turn = [-(event.clientX - last[0]) * share, (event.clientY - last[1]) * share];
    view.nudge(...turn, apart ? spread() / apart : 1);
    speed = speed.map((value, i) => 0.6 * value + 0.4 * turn[i]);
    when = event.timeStamp;
  }, { signal });

  const lift = (event) => {
    if (!down.delete(event.pointerId) || down.size) return;
    if (event.type === "pointerup" && event.timeStamp - when < FRESH && !still()) gliding = requestAnimationFrame(glide);
  };
  for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) canvas.addEventListener(kind, lift, { signal });

  // A bare wheel scrolls the page; with Ctrl, which is also how a touch pad tells a pinch, it zooms the box.
  canvas.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    view.nudge(0, 0, Math.exp(-event.deltaY * 0.004));
  }, { signal, passive: false });

  const keys = {
    ArrowLeft: [STEP, 0, 1], ArrowRight: [-STEP, 0, 1], ArrowUp: [0, -STEP, 1], ArrowDown: [0, STEP, 1],
    "+": [0, 0, CLOSER], "=": [0, 0, CLOSER], "-": [0, 0, 1 / CLOSER],
  };
  canvas.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (event.key === "Home") view.home();
    else if (keys[event.key]) view.nudge(...keys[event.key]);
    else return;
    halt();
    event.preventDefault();
  }, { signal });

  return () => { halt(); stopping.abort(); };
}
