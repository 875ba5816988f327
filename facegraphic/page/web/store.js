// What the page knows, in one place. Parts of the page watch it and draw themselves anew when it changes.

const state = {
  jobs: [], // [{name, title, ok}]
  readOnly: false,
  link: "opening", // "up", "lost"
  name: null, // the job shown
  job: null, // its state as the server tells it
  tab: null, // a side, or "sheets"
  coat: null, // the coat after which faces are shown; null: finished
  held: null, // key of the legend in hand, of the side shown
  wanted: {}, // "side/key" -> the nudge asked for, until the picture shows it
  finding: null, // the finding chosen, as an object of job.findings
  covers: false, // whether the outlines of what parts cover are drawn
  large: false, // whether the face is twice as large as fits
  making: null, // {file, done, total}
  made: null, // {folder, count} of the last make that this page has seen
};

const watchers = [];
let queued = null;

/** The state; read only, by agreement. */
export const now = () => state;

/** Changes some of the state; watchers hear of it once, after all that is changed in one go. */
export function set(some) {
  const before = queued ?? { ...state };
  Object.assign(state, some);
  if (queued === null) {
    queued = before;
    queueMicrotask(() => {
      const was = queued;
      queued = null;
      for (const watcher of watchers) watcher(state, was);
    });
  }
}

/** `watcher(state, before)` runs after each change, but only if one of `keys` has changed. */
export function watch(keys, watcher) {
  watchers.push((after, before) => {
    if (keys.some((key) => after[key] !== before[key])) watcher(after, before);
  });
}

/** The face with a side, or undefined. */
export const faceOf = (job, side) => job?.faces.find((face) => face.side === side);

const NAMES = { top: "Top", back: "Back", front: "Front", left: "Left", right: "Right" };

export const sideName = (side) => NAMES[side] ?? side;

export const wantedKey = (side, key) => `${side}/${key}`;
