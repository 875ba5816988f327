// Findings, worst first. One that is chosen is marked on the face and on the box.

import { byId, element, keep } from "./dom.js";
import { sentence } from "./notices.js";
import { faceOf, now, set, sideName, watch } from "./store.js";

const WORST = ["error", "warning", "note"];
const WORDS = { error: "Error", warning: "Warning", note: "Note" };
const area = byId("findings");
const list = element("ul", { class: "finding-list" });

function choose(finding) {
  const { finding: chosen, job } = now();
  if (chosen === finding) {
    set({ finding: null });
    return;
  }
  const face = faceOf(job, finding.side);
  set(face ? { finding, tab: face.side, held: null } : { finding });
}

function create() {
  const button = element(
    "button",
    { type: "button", class: "finding" },
    element("span", { class: "worth" }),
    element("span", { class: "told" }),
    element("span", { class: "side" }),
  );
  const more = element("p", { class: "remedy" });
  button.addEventListener("click", () => choose(button.finding));
  return element("li", {}, button, more);
}

function update(item, finding) {
  const [button, more] = item.children;
  const [worth, told, side] = button.children;
  const chosen = now().finding === finding;
  button.finding = finding;
  button.setAttribute("aria-pressed", String(chosen));
  item.className = `${finding.severity}${chosen ? " chosen" : ""}`;
  worth.textContent = WORDS[finding.severity] ?? finding.severity;
  told.textContent = sentence(finding.message);
  side.textContent = finding.side ? sideName(finding.side) : "";
  more.textContent = finding.remedy ? `To mend it: ${finding.remedy}.` : "";
  more.hidden = !chosen || !finding.remedy;
}

const MANY = { error: "errors", warning: "warnings", note: "notes" };

/** How many there are of each kind, in words. */
function counted(findings) {
  const parts = WORST.map((worth) => [worth, findings.filter((one) => one.severity === worth).length]);
  const there = parts.filter(([, count]) => count > 0);
  return there.map(([worth, count]) => `${count} ${count === 1 ? worth : MANY[worth]}`).join(", ") || "none";
}

/** Says once what has changed in number; the first findings of a job are not news. */
function tell(job, before) {
  if (!before || !job || job.name !== before.name || !before.findings_version) return;
  const [is, was] = [counted(job.findings), counted(before.findings)];
  if (is !== was) byId("found").textContent = `Findings: ${is}`;
}

function draw({ job }, { job: before }) {
  tell(job, before);
  const title = byId("findings-title");
  const sorted = [...(job?.findings ?? [])].sort((a, b) => WORST.indexOf(a.severity) - WORST.indexOf(b.severity));
  title.textContent = sorted.length ? `Findings (${sorted.length})` : "Findings";
  const nothing = !job?.findings_version ? "Checking" : job.error ? "None in what is shown." : "None. Everything fits.";
  if (!sorted.length) area.replaceChildren(element("p", { class: "small", text: job ? nothing : "" }));
  else if (!list.isConnected) area.replaceChildren(list);
  keep(list, sorted, keyOf(), create, update);
}

/** A finding's key: what it says, and which of those that say the same. */
function keyOf() {
  const seen = new Map();
  return (finding) => {
    const text = `${finding.code}|${finding.side}|${finding.message}`;
    const count = seen.get(text) ?? 0;
    seen.set(text, count + 1);
    return `${text}|${count}`;
  };
}

export function mountFindings() {
  watch(["job", "finding"], draw);
}
