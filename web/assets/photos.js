// Photos of a form: sent as soon as they are taken, shown small, named by the form by what they hold. A photo that does
// not come through stops nothing: it can be sent again or taken away.

import { draw, drawing, named, ringOf } from "./ring.js";

const takers = () => document.querySelectorAll("[data-photos]");
const part = (root, name) => root.querySelector(`[data-part="${name}"]`);
// A taker that stands beside its form names it.
const formOf = (taker) => document.getElementById(taker.dataset.for) ?? taker.closest("form");
const takersOf = (form) => [...takers()].filter((t) => formOf(t) === form);
const ofForm = (form) => takersOf(form).flatMap(shown);
const shown = (taker) => [...part(taker, "taken").children];

const lost = "No answer came. This photo may not be kept; what you have filled in stays. Send it again, or take it away and go on without it.";

// What a form holds of photos is numbered anew after every change: a command's list has no holes.
function count(taker) {
  const form = formOf(taker);
  const all = ofForm(form);
  all.map((li) => li.querySelector("input")).filter(Boolean).forEach((field, i) => { field.name = `photos.${i}`; });
  for (const t of takersOf(form)) {
    shown(t).forEach((li, i) => {
      part(li, "away").setAttribute("aria-label", `Take photo ${i + 1} away`);
      const picture = li.querySelector("img");
      if (!picture) return;
      picture.alt = `Photo ${i + 1}${ringOf(li.querySelector("input").value) ? ", with a ring" : ""}`;
      part(li, "ring").setAttribute("aria-label", `Ring something on photo ${i + 1}`);
    });
    const kept = shown(t).filter((li) => li.dataset.state === "kept").length;
    part(t, "count").textContent = kept ? `taken: ${kept} ${kept === 1 ? "photo" : "photos"}` : "";
    part(t, "camera").disabled = all.length >= Number(t.dataset.most);
    part(t, "word").textContent = all.length >= Number(t.dataset.most) ? `No more than ${t.dataset.most}` : all.length ? "Take another photo" : "Take a photo";
  }
}

function say(taker, text) { part(taker, "says").textContent = text; }

function button(name, text, act) {
  const b = document.createElement("button");
  b.type = "button";
  b.dataset.part = name;
  b.textContent = text;
  b.addEventListener("click", act);
  return b;
}

function away(taker, li) {
  li.remove();
  say(taker, "");
  count(taker);
  part(taker, "camera").focus();
}

async function send(taker, li, file) {
  li.dataset.state = "sending";
  li.querySelector("[data-part=again]")?.remove();
  part(li, "word").textContent = "sending…";
  say(taker, "");
  count(taker);
  let answer, said;
  try {
    answer = await fetch("/photos", {
      method: "POST", body: file, headers: { "Content-Type": file.type || "application/octet-stream", Accept: "application/json" },
      signal: AbortSignal.timeout(150000),
    });
    said = await answer.json();
  } catch { answer = null; }
  if (!li.isConnected) return;
  if (answer?.ok) {
    keep(taker, li, said);
  } else {
    li.dataset.state = "failed";
    part(li, "word").textContent = "not kept";
    say(taker, answer && said.title ? [said.title, said.remedy].filter(Boolean).join(" ") : lost);
    if (!answer || answer.status >= 500 || answer.status === 429) li.prepend(button("again", "Send again", () => send(taker, li, file)));
  }
  count(taker);
  goOn(taker);
}

function keep(taker, li, { hash }) {
  li.dataset.state = "kept";
  part(li, "word").remove();
  const picture = document.createElement("img");
  picture.src = `/photos/${hash}/thumb`;
  const field = document.createElement("input");
  field.type = "hidden";
  field.value = hash;
  if (taker.dataset.for) field.setAttribute("form", taker.dataset.for);
  const seen = document.createElement("span");
  seen.className = "ringed";
  seen.append(picture);
  li.prepend(seen, field, button("ring", "Ring", () => {
    draw(hash, picture.alt, ringOf(field.value), (ring) => {
      field.value = named(field.value, ring);
      seen.querySelector(".ring")?.remove();
      if (ring) seen.append(drawing(ring));
      count(taker);
    });
  }));
}

function take(taker, file) {
  const li = document.createElement("li");
  const word = document.createElement("span");
  word.dataset.part = "word";
  li.append(word, button("away", "✕", () => away(taker, li)));
  part(taker, "taken").append(li);
  send(taker, li, file);
}

// A form sent while a photo is still on its way waits for it, and goes on by itself once it is kept.
let waiting = null; // {form, button}

function goOn(taker) {
  const form = formOf(taker);
  const states = ofForm(form).map((li) => li.dataset.state);
  if (waiting?.form !== form || states.includes("sending")) return;
  const { button } = waiting;
  waiting = null;
  if (!states.includes("failed")) {
    say(taker, "");
    form.requestSubmit(button);
    return;
  }
  const panel = taker.closest("dialog");
  if (panel && !panel.open) panel.showModal();
}

document.addEventListener("submit", (e) => {
  const taker = takersOf(e.target).find((t) => t.querySelector("[data-state=sending]"));
  if (!taker) return;
  e.preventDefault();
  e.stopImmediatePropagation();
  waiting = { form: e.target, button: e.submitter };
  say(taker, "A photo is still being sent. This goes on by itself when it is kept.");
}, true);

document.addEventListener("change", (e) => {
  const taker = e.target.closest("[data-photos]");
  if (!taker || e.target !== part(taker, "camera")) return;
  for (const file of e.target.files) take(taker, file);
  e.target.value = ""; // the same picture may be chosen again
});

/** Takes pictures into the taker within an element, as if its own camera had. */
export function takeInto(root, files) {
  const taker = root.querySelector("[data-photos]");
  for (const file of files) if (!part(taker, "camera").disabled) take(taker, file);
}

/** Takes away what was taken within an element. */
export function withoutPhotos(root) {
  for (const taker of root.querySelectorAll("[data-photos]")) {
    part(taker, "taken").replaceChildren();
    say(taker, "");
    count(taker);
  }
}

/** Has what is taken within an element go with another form, and back with its own when that is null. */
export function lendPhotos(root, form) {
  for (const taker of root.querySelectorAll("[data-photos]")) {
    taker.dataset.for = form?.id ?? "";
    for (const field of taker.querySelectorAll("[type=hidden]")) {
      if (form) field.setAttribute("form", form.id); else field.removeAttribute("form");
    }
    count(taker);
  }
}

takers().forEach(count);
