// The preview's page: what is switched, and the turning box in place of its still picture.

import { BoxView } from "./box-view.js";

const say = (id) => document.getElementById(id);
const data = JSON.parse(say("box-data").textContent);
const stage = say("stage"), canvas = say("turning"), told = say("told");
let view = null;

function pictures() {
  return Promise.all(data.pictures.map(async (source) => {
    const image = new Image();
    image.src = source;
    await image.decode();
    return image;
  }));
}

/** Show one of the stages; the last one is the finished box. */
function dress(images, number) {
  const { title, looks, shell, parts } = data.stages[number];
  view.shell(shell);
  view.parts(parts);
  for (const side of Object.keys(data.model.poses)) {
    const look = looks[side];
    if (look) view.look(side, images[look.picture], { extent: look.extent, film: images[look.film] ?? null });
    else view.look(side, null);
  }
  canvas.dataset.stage = title;
}

function live(yes) {
  stage.classList.toggle("live", yes);
  for (const one of document.querySelectorAll(".needs-view")) one.hidden = !yes;
}

function gone(why) {
  live(false);
  told.textContent = why;
}

function opened() {
  return new BoxView(canvas, {
    lost: () => gone("The graphics card took the turning box away; its still picture stands in until it is back."),
    back: () => { live(true); told.textContent = ""; },
    turned: ({ azimuth, elevation }) => {
      canvas.setAttribute("aria-label", `The box, seen ${from(azimuth)}, ${Math.round(elevation)}° above the table`);
    },
  });
}

function listen(images) {
  for (const choice of document.querySelectorAll("input[name=stage]")) {
    choice.addEventListener("change", () => dress(images, Number(choice.value)));
  }
  for (const button of document.querySelectorAll("[data-face]")) {
    button.addEventListener("click", () => view.face(button.dataset.face));
  }
  say("closer").addEventListener("click", () => view.nudge(0, 0, 1.25));
  say("farther").addEventListener("click", () => view.nudge(0, 0, 0.8));
  say("home").addEventListener("click", () => view.home());
}

async function start() {
  try {
    view = opened();
  } catch {
    gone("This browser cannot turn the box (it has no WebGL 2), so its still picture stands in.");
    return;
  }
  try {
    const images = await pictures();
    live(true);
    view.load(data.model);
    const chosen = document.querySelector("input[name=stage]:checked");
    dress(images, chosen ? Number(chosen.value) : data.stages.length - 1);
    listen(images);
    window.boxView = view; // for whoever tries things out
    document.documentElement.dataset.ready = "yes";
  } catch (error) {
    gone("This browser could not draw the box, so its still picture stands in.");
    throw error;
  }
}

function from(azimuth) {
  const names = ["from the front", "from the front right", "from the right", "from the back right", "from the back",
    "from the back left", "from the left", "from the front left"];
  return names[((Math.round(azimuth / 45) % 8) + 8) % 8];
}

/** Only what is chosen is shown; on paper, and without script, all of it is. */
function choose(name) {
  for (const part of document.querySelectorAll("main > section")) part.hidden = part.id !== name;
}

for (const choice of document.querySelectorAll("input[name=part]")) {
  choice.addEventListener("change", () => choose(choice.value));
  if (choice.checked) choose(choice.value);
}
for (const figure of document.querySelectorAll(".leaves figure")) {
  const button = document.createElement("button"), caption = figure.querySelector("figcaption");
  button.type = "button";
  button.textContent = "Larger";
  button.setAttribute("aria-label", `Larger: ${caption.textContent}`);
  button.setAttribute("aria-pressed", "false");
  button.addEventListener("click", () => button.setAttribute("aria-pressed", figure.classList.toggle("large")));
  caption.append(button);
}
document.documentElement.classList.add("scripted");
start();
