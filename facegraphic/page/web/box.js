// The box: turning where the browser can draw it, else as a picture.

import { byId, element } from "./dom.js";
import { facePath, picture } from "./pictures.js";
import { jobPath, read } from "./server.js";
import { faceOf, now, sideName, watch } from "./store.js";

const VIEWS = [
  ["Corner", "Corner of the box", (box) => box.home()],
  ["Above", "Above the box", (box) => box.face("top")],
  ["Front", "Front of the box", (box) => box.face("front")],
  ["Right", "Right side of the box", (box) => box.face("right")],
  ["Back", "Back of the box", (box) => box.face("back")],
  ["Left", "Left side of the box", (box) => box.face("left")],
  ["−", "Farther from the box", (box) => box.nudge(0, 0, 1 / 1.25)],
  ["+", "Closer to the box", (box) => box.nudge(0, 0, 1.25)],
];

const area = byId("turning");
const canvas = element("canvas", {
  tabindex: "0",
  role: "application",
  "aria-label": "Box",
  "aria-describedby": "box-hint",
});

let view = null; // a BoxView
let standing = null; // key of the model that is loaded
let worn = {}; // side -> path of the picture that it wears
let stage = "null"; // what the shell wears, as JSON

/** Waits until the flat face has had its turn: the box takes longer to draw, and the eye is on the face. */
const painted = (image) => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0, image)));

/** What the solid box depends on; while it stays, only pictures are changed. */
const solid = (name, job) => `${name} ${job.model}`;

function live(yes) {
  for (const control of byId("views").children) control.disabled = !yes;
  byId("box-hint").textContent = yes
    ? "Drag to turn it, or use the arrow keys; + and − zoom."
    : "This browser cannot turn the box, so a picture stands in.";
}

async function begin() {
  try {
    const { BoxView } = await import("./box-view.js");
    area.replaceChildren(canvas);
    view = new BoxView(canvas, {
      lost: () => {
        live(false);
        still(now());
      },
      back: () => {
        live(true);
        area.replaceChildren(canvas);
      },
    });
  } catch {
    view = null;
  }
}

/** The picture that stands in for the turning box. */
function still({ name, job }) {
  if (!job) return;
  const image = area.querySelector("img") ?? element("img", { alt: "" });
  image.alt = `${job.title || job.name}: the finished box, seen from the front and above`;
  const path = jobPath(name, job.preview ?? "preview.png");
  if (image.getAttribute("src") !== path) image.src = path;
  if (!image.isConnected) area.replaceChildren(image);
}

/** While coats are shown, edges and bare sides wear theirs, and no parts stand in the holes yet. */
function shell({ job, coat }) {
  const worn = coat === null ? null : (job.shells[coat] ?? null);
  const wanted = JSON.stringify(worn);
  if (wanted === stage) return;
  stage = wanted;
  view.shell(worn);
  view.parts(coat === null);
}

function dress({ name, job, coat }) {
  for (const side of Object.keys(worn)) {
    if (!job.faces.some((face) => face.side === side)) {
      view.look(side, null);
      delete worn[side];
    }
  }
  for (const [index, face] of job.faces.entries()) {
    const path = facePath(name, face, coat);
    if (worn[face.side] === path) continue;
    worn[face.side] = path;
    picture(path)
      .then(painted)
      .then((image) => {
        if (!view || worn[face.side] !== path) return;
        view.look(face.side, image);
        if (index === 0) shell(now()); // with the first picture, not before it
      })
      .catch(() => {
        if (worn[face.side] === path) delete worn[face.side];
      });
  }
}

/** Rings the place of a finding on the box; where it is about all of a face, frames that. */
function mark({ finding }) {
  if (!view || !standing) return;
  if (!finding?.side) view.point(null);
  else if (finding.at) view.point(finding.side, ...finding.at);
  else view.point(finding.side, 0, 0, { size: faceOf(now().job, finding.side)?.size });
  const where = finding?.side ? `, a ring on the ${sideName(finding.side).toLowerCase()} face: ${finding.message}` : "";
  canvas.setAttribute("aria-label", `Box${where}`);
}

async function draw(state) {
  const { name, job } = state;
  area.hidden = Boolean(job) && !job.faces.length;
  if (!job || !job.faces.length) return;
  if (!view) {
    still(state);
    return;
  }
  const key = solid(name, job);
  if (standing !== key) {
    if (!standing?.startsWith(`${name} `)) undress();
    standing = key;
    try {
      const model = await read(jobPath(name, job.model));
      if (standing !== key || !view) return;
      view.load(model);
    } catch {
      giveUp();
      return;
    }
  }
  dress(now());
  mark(now());
}

function undress() {
  for (const side of Object.keys(worn)) view.look(side, null);
  worn = {};
  view.shell(null);
  view.parts(true);
  stage = "null";
}

function giveUp() {
  view?.dispose();
  view = null;
  live(false);
  still(now());
}

/** Puts the box's area together; called once. */
export async function mountBox() {
  byId("views").append(
    ...VIEWS.map(([text, title, act]) =>
      element("button", {
        type: "button",
        class: "plain",
        text,
        "aria-label": title,
        title,
        onclick: () => view && act(view),
      }),
    ),
  );
  await begin();
  live(Boolean(view));
  watch(["job", "coat", "name"], draw);
  watch(["finding"], mark);
  if (now().job) draw(now());
}
