// The scan field: a hand scanner types into it wherever the focus is; the camera reads where the browser can.
import { isBadge, signWith } from "./panels.js";

const field = document.querySelector("[data-scan]");

function openDialog() { return document.querySelector("dialog[open]"); }

// A scanner's first character lands wherever the focus is. Unless that is a
// field of its own, it goes on into the scan field: of the open panel, if that
// has one, else of the page. The signing panel sees to its own fields.
addEventListener("keydown", (e) => {
  if (e.key.length !== 1 || e.key === " " || e.ctrlKey || e.altKey || e.metaKey) return;
  if (e.target.matches("input:not([type=checkbox], [type=radio]), textarea, select")) return;
  const panel = openDialog();
  const to = panel ? panel.querySelector("[data-code]") : field;
  to?.focus();
});

field?.form.addEventListener("submit", (e) => {
  const text = field.value.trim();
  if (!text) { e.preventDefault(); return; }
  const work = document.querySelector("form[data-steps]");
  if (isBadge(text) && work) {
    // A badge scanned at the work page is a wish to sign; it never goes into an address.
    e.preventDefault();
    field.value = "";
    signWith(work, text);
  }
});

// Codes scanned into a form's own field come as whole addresses; the code is in them.
document.addEventListener("change", (e) => {
  if (!e.target.matches("[data-code]")) return;
  const found = e.target.value.toUpperCase().match(/(?:^|\/)([PSU][2-9A-HJKMNP-Z]{7})(?:\/\d+)?\/?$/);
  e.target.value = found ? found[1] : e.target.value.toUpperCase().replace(/[\s-]/g, "");
});

const camera = document.querySelector("[data-camera]");
if (camera && "BarcodeDetector" in window && navigator.mediaDevices) {
  camera.hidden = false;
  camera.addEventListener("click", look);
}

async function look() {
  const video = document.getElementById("camera");
  let stream;
  try {
    stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
  } catch {
    field.placeholder = "no camera: type the code";
    return;
  }
  video.srcObject = stream;
  video.hidden = false;
  await video.play();
  const detector = new BarcodeDetector({ formats: ["qr_code"] });
  const until = performance.now() + 30000;
  while (performance.now() < until) {
    const [found] = await detector.detect(video);
    if (found) {
      field.value = found.rawValue;
      break;
    }
    await new Promise(requestAnimationFrame);
  }
  stream.getTracks().forEach((t) => t.stop());
  video.hidden = true;
  if (field.value) field.form.requestSubmit();
}

if (field && !openDialog()) field.focus();
