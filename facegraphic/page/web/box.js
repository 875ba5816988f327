// The box: turning where the browser can draw it, else as a picture.

import { byId, element } from "./dom.js";
import { facePath, picture } from "./pictures.js";
import { jobPath, read } from "./server.js";
import { now, watch } from "./store.js";

const VIEWS = [["Three-quarter", -26, 42], ["From above", 0, 89], ["From behind", 154, 42]];
const area = byId("turning");

let view = null;     // a BoxView
let standing = null; // key of the model that is loaded
let worn = {};       // side -> path of the picture that it wears

/** What the solid box depends on; while it stays, only pictures are changed. */
const solid = (name, job) => job.model ?? `${name} ${JSON.stringify(job.faces.map((face) => [face.side, face.size, face.holes]))}`;

async function begin() {
  const canvas = element("canvas", { tabindex: "0" });
  area.replaceChildren(canvas);
  try {
    const { BoxView } = await import("./box-view.js");
    view = new BoxView(canvas, {});
  } catch {
    view = null;
  }
}

function still(name, job) {
  const image = area.querySelector("img") ?? element("img", { alt: "" });
  image.alt = `${job.title || job.name}: the finished box, seen from the front and above`;
  const path = jobPath(name, `preview.png?v=${job.version}`);
  if (image.getAttribute("src") !== path) image.src = path;
  if (!image.isConnected) area.replaceChildren(image);
  byId("views").replaceChildren();
  byId("box-hint").textContent = "This browser cannot turn the box.";
}

async function dress({ name, job, coat }) {
  for (const face of job.faces) {
    const path = facePath(name, face, coat);
    if (worn[face.side] === path) continue;
    worn[face.side] = path;
    picture(path).then((image) => {
      if (worn[face.side] === path) view.look(face.side, image);
    }).catch(() => { if (worn[face.side] === path) delete worn[face.side]; });
  }
}

function mark({ finding }) {
  if (!view) return;
  if (finding?.side && finding.at) view.point(finding.side, finding.at[0], finding.at[1]);
  else if (finding?.side) view.point(finding.side, 0, 0);
  else view.point(null);
}

async function draw(state) {
  const { name, job } = state;
  if (!job || !job.faces.length) return;
  if (!view) {
    still(name, job);
    return;
  }
  const key = solid(name, job);
  if (standing !== key) {
    standing = key;
    worn = {};
    try {
      const model = await read(jobPath(name, "model"));
      if (standing !== key) return;
      view.load(model);
    } catch {
      view.dispose();
      view = null;
      still(name, job);
      return;
    }
  }
  dress(now());
  mark(now());
}

export async function mountBox() {
  await begin();
  if (view) {
    byId("views").append(...VIEWS.map(([title, azimuth, elevation]) =>
      element("button", { type: "button", class: "plain", text: title, onclick: () => view?.turn(azimuth, elevation) })));
    byId("box-hint").textContent = "Drag to turn it, or use the arrow keys.";
  }
  watch(["job", "coat", "name"], draw);
  watch(["finding"], mark);
  if (now().job) draw(now());
}
