// A consignment received on a phone: numbers by minus and plus, what is fewer or damaged, the client's signature.
import { around } from "./panels.js";

const part = (root, name) => root.querySelector(`[data-part="${name}"]`);

// Numbers

function settle(field) {
  const n = Math.trunc(Number(field.value));
  const least = Number(field.dataset.least ?? 0);
  field.value = Number.isFinite(n) ? Math.max(least, Math.min(n, Number(field.dataset.most))) : least;
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

document.addEventListener("click", (e) => {
  const step = e.target.closest("[data-step]");
  if (!step) return;
  const field = step.closest("[data-stepper]").querySelector("input");
  field.value = (Number(field.value) || 0) + Number(step.dataset.step);
  settle(field);
});
document.addEventListener("change", (e) => { if (e.target.closest("[data-stepper]")) settle(e.target); });

// What a box brought

const box = document.querySelector("form[data-box]");
const found = (li) => Number(li.querySelector("[name$='.found']").value);
const damaged = (li) => Number(li.querySelector("[name$='.damaged']").value);

function told() {
  let other = false;
  for (const li of box.querySelectorAll("[data-counted]")) {
    const bad = damaged(li);
    li.querySelector("[data-damage]").hidden = bad === 0;
    li.querySelector("[data-says]").textContent = bad > found(li) ? `${bad} can't be damaged of ${found(li)} that came.` : "";
    other ||= bad > 0 || found(li) < Number(li.dataset.listed);
  }
  const sign = box.querySelector("[data-as]");
  sign.textContent = other ? "Sign: came as counted" : sign.dataset.as;
}

function boxReady() {
  for (const li of box.querySelectorAll("[data-counted]")) {
    const why = li.querySelector("[name$='.why']");
    const says = li.querySelector("[data-says]");
    if (damaged(li) > found(li)) { li.querySelector("details").open = true; li.querySelector("[name$='.damaged']").focus(); return false; }
    if (damaged(li) > 0 && !why.value.trim()) {
      says.textContent = "Say what is wrong with the damaged ones.";
      li.querySelector("details").open = true;
      why.focus();
      return false;
    }
  }
  return true;
}

if (box) {
  box.addEventListener("input", told);
  told();
}

// The client's signature: drawn, sent as a picture, named by the acceptance.

const client = document.querySelector("[data-client]");
let drawn = false;

function ready(text) { part(client, "state").textContent = text; }

function draw() {
  const canvas = part(client, "ink");
  const pen = canvas.getContext("2d");
  const blank = () => {
    pen.fillStyle = "#fff";
    pen.fillRect(0, 0, canvas.width, canvas.height);
    pen.lineWidth = 4;
    pen.lineCap = pen.lineJoin = "round";
    pen.strokeStyle = "#14171a";
    drawn = false;
    client.querySelector("[data-hash]").removeAttribute("name");
    ready("not signed yet");
  };
  const at = (e) => {
    const r = canvas.getBoundingClientRect();
    return [(e.clientX - r.left) * canvas.width / r.width, (e.clientY - r.top) * canvas.height / r.height];
  };
  let down = false;
  canvas.addEventListener("pointerdown", (e) => {
    down = true;
    canvas.setPointerCapture(e.pointerId);
    pen.beginPath();
    pen.moveTo(...at(e));
    e.preventDefault();
  });
  canvas.addEventListener("pointermove", (e) => {
    if (!down) return;
    pen.lineTo(...at(e));
    pen.stroke();
    drawn = true;
    client.querySelector("[data-hash]").removeAttribute("name"); // what was sent before is not this
    ready("signed");
    part(client, "client-says").textContent = "";
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, () => { down = false; });
  part(client, "wipe").addEventListener("click", blank);
  blank();
}

async function sendSignature(form, button) {
  const says = part(client, "client-says");
  ready("sending the signature…");
  const picture = await new Promise((done) => part(client, "ink").toBlob(done, "image/png"));
  let answer, said;
  try {
    answer = await fetch("/photos", { method: "POST", body: picture, headers: { "Content-Type": "image/png", Accept: "application/json" }, signal: AbortSignal.timeout(60000) });
    said = await answer.json();
  } catch { answer = null; }
  if (!answer?.ok) {
    ready("signed, not sent");
    says.textContent = answer && said?.title ? [said.title, said.remedy].filter(Boolean).join(" ")
      : "No answer came: nothing was recorded, and the signature stays on this page. Press the button once more.";
    return;
  }
  const hash = client.querySelector("[data-hash]");
  hash.name = "photos.0";
  hash.value = said.hash;
  ready("signed");
  form.requestSubmit(button);
}

if (client) {
  draw();
  client.closest("form").addEventListener("submit", (e) => {
    const form = e.target;
    const paper = form.querySelector("[data-paper]").checked;
    if (!drawn && !paper) {
      e.preventDefault();
      e.stopImmediatePropagation();
      part(client, "client-says").textContent = "Have the client sign in the field, or tick that it was signed on paper.";
      part(client, "client-says").scrollIntoView({ block: "center" });
      return;
    }
    if (drawn && !client.querySelector("[data-hash]").name) {
      e.preventDefault();
      e.stopImmediatePropagation();
      sendSignature(form, e.submitter);
    }
  }, true);
}

// Boxes that came as listed, ticked one by one: none ticked would stand for all of them.

const ticks = document.querySelector("form[data-ticks]");

function ticked() {
  const some = ticks.querySelector("input:checked") !== null;
  part(ticks, "none-ticked").textContent = some ? "" : "Tick each box that came whole and as listed; open the others and count them.";
  return some;
}

ticks?.addEventListener("input", () => { part(ticks, "none-ticked").textContent = ""; });

const before = around.before;
around.before = (form) => {
  if (form === box) return boxReady();
  return form === ticks ? ticked() : before(form);
};
