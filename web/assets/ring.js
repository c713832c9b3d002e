// A ring round something on a photo, drawn with a finger or placed by the keyboard. It is kept beside the photo, as a
// box in percent; the picture stays as it was taken.

const part = (name) => panel.querySelector(`[data-part="${name}"]`);
const first = { x: 35, y: 35, w: 30, h: 30 }; // where a ring begins that nobody has drawn
const least = 4;

let panel, ring, done;

const svg = (name, of) => {
  const e = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [k, v] of Object.entries(of)) e.setAttribute(k, v);
  return e;
};

/** A drawing of a ring, to lie over its photo. */
export function drawing({ x, y, w, h }) {
  const out = svg("svg", { class: "ring", viewBox: "0 0 100 100", preserveAspectRatio: "none", "aria-hidden": "true" });
  for (const line of ["casing", "line"]) out.append(svg("ellipse", { class: line, cx: x + w / 2, cy: y + h / 2, rx: w / 2, ry: h / 2 }));
  return out;
}

/** The ring a photo's name holds; null: none. */
export function ringOf(name) {
  const m = name.match(/#xywh=percent:(\d+),(\d+),(\d+),(\d+)$/);
  return m ? { x: +m[1], y: +m[2], w: +m[3], h: +m[4] } : null;
}

/** A photo's name with another ring, or with none. */
export function named(name, r) {
  const hash = name.split("#")[0];
  return r ? `${hash}#xywh=percent:${r.x},${r.y},${r.w},${r.h}` : hash;
}

function show() {
  part("plate").querySelector(".ring")?.remove();
  if (ring) part("plate").append(drawing(ring));
  part("off").disabled = !ring;
  part("where").textContent = ring ? `The ring is ${ring.x} % from the left and ${ring.y} % from the top, ${ring.w} % wide and ${ring.h} % high.` : "No ring yet.";
}

// Whole percents, within the photo and not too small to see.
function settle({ x, y, w, h }) {
  const one = (at, long) => {
    const size = Math.min(100, Math.max(least, Math.round(long)));
    return [Math.min(100 - size, Math.max(0, Math.round(at))), size];
  };
  const [left, wide] = one(x, w);
  const [top, high] = one(y, h);
  return { x: left, y: top, w: wide, h: high };
}

function byFinger(plate) {
  let stroke = null;
  const at = (e) => {
    const r = plate.getBoundingClientRect();
    const of = (v, from, long) => Math.min(100, Math.max(0, 100 * (v - from) / long));
    return [of(e.clientX, r.left, r.width), of(e.clientY, r.top, r.height)];
  };
  plate.addEventListener("pointerdown", (e) => {
    plate.setPointerCapture(e.pointerId);
    const [x, y] = at(e);
    stroke = { x, y, right: x, bottom: y };
  });
  plate.addEventListener("pointermove", (e) => {
    if (!stroke) return;
    const [x, y] = at(e);
    stroke = { x: Math.min(stroke.x, x), y: Math.min(stroke.y, y), right: Math.max(stroke.right, x), bottom: Math.max(stroke.bottom, y) };
    const w = stroke.right - stroke.x, h = stroke.bottom - stroke.y;
    if (w < 1 && h < 1) return; // a finger put down, not drawn
    ring = settle({ x: stroke.x, y: stroke.y, w, h });
    show();
  });
  for (const end of ["pointerup", "pointercancel"]) plate.addEventListener(end, () => { stroke = null; });
}

function byKeys(plate) {
  const steps = { ArrowLeft: ["x", "w", -2], ArrowRight: ["x", "w", 2], ArrowUp: ["y", "h", -2], ArrowDown: ["y", "h", 2] };
  plate.addEventListener("keydown", (e) => {
    const step = steps[e.key];
    if (!step && !(e.key === "Delete" && ring)) return;
    e.preventDefault();
    if (!step) ring = null;
    else if (!ring) ring = { ...first };
    else ring = settle({ ...ring, [step[e.shiftKey ? 1 : 0]]: ring[step[e.shiftKey ? 1 : 0]] + step[2] });
    show();
  });
}

function make() {
  panel = document.createElement("dialog");
  panel.className = "panel ringing";
  panel.setAttribute("aria-labelledby", "ring-title");
  panel.innerHTML = `
    <h1 id="ring-title">Draw a ring round what is wrong</h1>
    <div class="plate" data-part="plate" tabindex="0" role="application" aria-roledescription="photo to ring" aria-describedby="ring-how"><img alt="" draggable="false"></div>
    <p class="soft" id="ring-how">With a finger, once round. By keyboard: the arrows put a ring and move it, with Shift they change its size, Delete takes it off.</p>
    <p class="row">
      <button type="button" data-part="put">Put a ring</button>
      <button type="button" data-part="off">Take the ring off</button>
      <span class="unseen" role="status" data-part="where"></span>
      <button type="button" class="main push" data-part="done">Done</button>
    </p>`;
  document.body.append(panel);
  byFinger(part("plate"));
  byKeys(part("plate"));
  part("put").addEventListener("click", () => { ring = { ...first }; show(); part("plate").focus(); });
  part("off").addEventListener("click", () => { ring = null; show(); part("plate").focus(); });
  part("done").addEventListener("click", () => { panel.close(); finish(); });
  panel.addEventListener("close", () => { if (!panel.open) finish(); }); // by Esc: what was drawn counts all the same
}

// Once for every time it is opened: that a panel was closed is told late.
function finish() {
  const then = done;
  done = null;
  then?.(ring);
}

/** Lets a ring be drawn on a photo; says what came of it when the panel is closed. */
export function draw(hash, what, was, then) {
  if (!panel) make();
  ring = was;
  done = then;
  const plate = part("plate");
  plate.querySelector("img").src = `/photos/${hash}`;
  plate.setAttribute("aria-label", what);
  show();
  panel.showModal();
  plate.focus();
}
