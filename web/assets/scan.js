// The scan field: a hand scanner types into it wherever the focus is; the camera reads where the browser can.
import { isBadge, signWith } from "./panels.js";

const field = document.querySelector("[data-scan]");

function openDialog() { return document.querySelector("dialog[open]"); }

// A scanner's first character lands wherever the focus is. Unless that is a
// field of its own, it goes on into the scan field: of the open panel, if that
// has one, else of the page. The signing panel sees to its own fields.
addEventListener("keydown", (e) => {
  if (e.key.length !== 1 || e.key === " " || e.ctrlKey || e.altKey || e.metaKey) return;
  // A number has no letters in it: a code scanned while one is typed goes where codes go.
  const counting = e.target.matches("[data-number]") && /[a-z]/i.test(e.key);
  if (!counting && e.target.matches("input:not([type=checkbox], [type=radio]), textarea, select")) return;
  const panel = openDialog();
  const to = panel ? panel.querySelector("[data-code], [data-badge]") : field;
  to?.focus();
});

// A badge scanned into an open panel is a wish to sign what it says. It stays in no field: not in the one for it, nor
// after the words that were typed in another. A page that knows better what to do with it takes the event.
const badgeAtEnd = /BDG[BCDEFGHJKLNPRTVX]{32}$/i;

addEventListener("keydown", (e) => {
  if (e.key !== "Enter" || !e.target.matches("dialog[open]:not(#sign) input")) return;
  const input = e.target;
  const catcher = input.matches("[data-badge]");
  const badge = input.value.match(badgeAtEnd)?.[0];
  if (!badge && !catcher) return;
  e.preventDefault();
  e.stopPropagation();
  input.value = catcher ? "" : input.value.slice(0, -badge.length);
  const form = input.form;
  if (!badge || !form?.dataset.command) return;
  if (input.dispatchEvent(new CustomEvent("badge", { bubbles: true, cancelable: true, detail: badge })) && form.dataset.sign) signWith(form, badge);
}, true);

field?.form.addEventListener("submit", (e) => {
  const text = field.value.trim();
  if (!text) { e.preventDefault(); return; }
  const work = document.querySelector("form[data-steps]");
  if (isBadge(text) && work) {
    // A badge scanned at the work page is a wish to sign; it never goes into an address.
    e.preventDefault();
    field.value = "";
    signWith(work, text);
    return;
  }
  sessionStorage.setItem("scanned", "yes");
});

// What a scan led to may be done in the same motion, such as taking a pallet in to the slot whose sign was scanned. Only
// a scan does that: neither the address alone, nor the page come back to or loaded once more.
const scanned = sessionStorage.getItem("scanned");
sessionStorage.removeItem("scanned");
if (scanned) document.querySelector("form[data-scanned]")?.requestSubmit();

// A slot's sign scanned into its own field comes as a whole address; its name is the last of it.
document.addEventListener("change", (e) => {
  if (!e.target.matches("[data-slot]")) return;
  const sign = e.target.value.toUpperCase().match(/\/T\/[^/]+\/([^/]+)\/?$/);
  e.target.value = sign ? decodeURIComponent(sign[1]) : e.target.value.toUpperCase();
});

// Codes scanned into a form's own field come as whole addresses; the code is in them.
document.addEventListener("change", (e) => {
  if (!e.target.matches("[data-code]")) return;
  const found = e.target.value.toUpperCase().match(/(?:^|\/)([PSU][2-9A-HJKMNP-Z]{7})(?:\/\d+)?\/?$/);
  e.target.value = found ? found[1] : e.target.value.toUpperCase().replace(/[\s-]/g, "");
});

// The camera, where the browser can read codes by it; where it can't, it says so in one sentence.

const camera = document.querySelector("[data-camera]");
const says = document.querySelector("[data-scan-says]");
const otherwise = "use the hand scanner, or type the code.";
const longest = 30000; // ms a camera is kept looking: a tablet put down must not film on
let watching = null;

function say(text) {
  says.textContent = text;
  says.hidden = !text;
}

async function reads() {
  if (!("BarcodeDetector" in window)) return false;
  return (await BarcodeDetector.getSupportedFormats()).includes("qr_code");
}

async function watch() {
  if (watching) { watching.stop(); return; }
  say("");
  if (!navigator.mediaDevices) { say(`The camera needs the shop's https address; ${otherwise}`); return; }
  if (!await reads()) { say(`This browser can't read codes by camera; ${otherwise}`); return; }
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment", width: { ideal: 1280 }, height: { ideal: 720 } } });
  } catch {
    say(`No camera may be used here; ${otherwise}`);
    return;
  }
  const text = await look(stream);
  if (text === null) { field.focus(); return; }
  if (!text) { say(`No code was seen in half a minute; hold it nearer and try again, or ${otherwise}`); field.focus(); return; }
  field.value = text;
  field.form.requestSubmit();
}

// The text of the first code seen; "" after the longest time, null when it is stopped.
async function look(stream) {
  const video = document.getElementById("camera");
  let stopped = false;
  watching = { stop: () => { stopped = true; } };
  camera.textContent = "Stop";
  try {
    video.srcObject = stream;
    video.hidden = false;
    await video.play();
    const detector = new BarcodeDetector({ formats: ["qr_code"] });
    const until = performance.now() + longest;
    while (!stopped && performance.now() < until) {
      const [found] = await detector.detect(video).catch(() => []); // a frame that can't be read is followed by another
      if (found) return found.rawValue;
      await new Promise(requestAnimationFrame);
    }
    return stopped ? null : "";
  } finally {
    stream.getTracks().forEach((t) => t.stop());
    video.srcObject = null;
    video.hidden = true;
    watching = null;
    camera.textContent = "Camera";
  }
}

camera?.addEventListener("click", watch);
// What it said goes when somebody types, or touches anything else.
field?.addEventListener("input", () => { if (says) say(""); });
addEventListener("pointerdown", (e) => { if (says && e.target !== camera) say(""); });

if (field && !openDialog()) field.focus();
