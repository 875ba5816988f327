// Pictures of faces, decoded once and kept while they may be shown again.

import { jobPath } from "./server.js";

const KEPT = 24; // a box of five faces with some coats
const kept = new Map();

/** Where a face's picture is; `coat` is the coat after which it is shown, null when finished. */
export function facePath(name, face, coat = null) {
  return jobPath(name, face.picture) + (coat === null ? "" : `&coat=${coat}`);
}

/** A picture, ready to be drawn in no time: whoever swaps pictures waits for this first, so that nothing blinks. */
export function picture(path) {
  const known = kept.get(path);
  if (known) {
    kept.delete(path);
    kept.set(path, known); // the last one asked for is the last to go
    return known;
  }
  const image = new Image();
  image.src = path;
  const coming = image.decode().then(() => image);
  coming.catch(() => kept.delete(path));
  kept.set(path, coming);
  for (const oldest of kept.keys()) {
    if (kept.size <= KEPT) break;
    kept.delete(oldest);
  }
  return coming;
}
