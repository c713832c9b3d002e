// The bench: nest lines ticked off, their counts, the pallets they go on, and the checks drawn for them.
import { around } from "./panels.js";
import { aim } from "./pad.js";
import { lackingChecks } from "./checks.js";

const form = document.querySelector("form[data-ticks]");

if (form) {
  const go = form.querySelector("[data-go]");
  const lines = [...form.querySelectorAll("[data-line]")];
  const faces = [...form.querySelectorAll("[data-face]")];
  const checkFaces = [...form.querySelectorAll("[data-check-face]")];
  const turn = form.querySelector("[data-turn]");
  const toLines = form.querySelector("[data-to-lines]");
  let counting = null;

  const number = (line, name) => Number(line.querySelector(`[data-${name}]`).value) || 0;
  const ticked = (line) => line.querySelector("[data-tick]").checked;
  const asked = (line) => Number(line.dataset.asked);

  function differs(line) {
    return ["damaged", "missing", "extra"].filter((n) => number(line, n) > 0).map((n) => `${number(line, n)} ${n}`).join(", ");
  }

  // Good is what is left: asked, less damaged and missing, and the extra ones.
  function tally(line) {
    const short = number(line, "damaged") + number(line, "missing");
    const message = line.querySelector("[data-tally-message]");
    message.textContent = short > asked(line) ? `That is ${short} of ${asked(line)} parts. Correct the counts.` : "";
    line.querySelector("[data-good]").value = Math.max(0, asked(line) - short) + number(line, "extra");
    return short <= asked(line);
  }

  function left() { return lines.filter((l) => !ticked(l)); }

  function pallets() { return new Set(lines.filter((l) => number(l, "good") > 0).map((l) => l.querySelector("[data-to]").value)); }

  function show(face) {
    [...faces, ...checkFaces].forEach((f) => { f.hidden = f !== face; });
    aim(null);
    refresh();
  }

  const shown = () => [...faces, ...checkFaces].find((f) => !f.hidden);
  const open = (face) => [...face.querySelectorAll("[data-line]")].filter((l) => !ticked(l));

  function next() {
    const here = open(shown());
    if (here.length) {
      const say = here.length === 1 ? "This line is there and good" : `All ${here.length} lines are there and good`;
      return { say, act: () => here.forEach((l) => { l.querySelector("[data-tick]").checked = true; }) };
    }
    const other = faces.find((f) => open(f).length);
    if (other) return { say: `Next: ${open(other).length} more lines`, act: () => show(other) };
    const lack = checkFaces.includes(shown()) && lackingChecks(shown());
    if (lack) return lack;
    const unchecked = checkFaces.find((f) => lackingChecks(f));
    if (unchecked) return { say: checkFaces.includes(shown()) ? "More checks" : "Go on to the checks", act: () => show(unchecked) };
    const n = pallets().size;
    return { say: `Sign: onto ${n} pallet${n === 1 ? "" : "s"}`, sign: true };
  }

  // Of a line with no good parts nothing is checked.
  function refresh() {
    form.querySelectorAll("[data-checks-of]").forEach((set) => {
      const line = lines[set.dataset.checksOf];
      set.hidden = set.disabled = !!line && number(line, "good") === 0;
    });
    const lineShown = faces.includes(shown());
    turn?.toggleAttribute("hidden", !lineShown);
    toLines?.toggleAttribute("hidden", lineShown);
    go.textContent = next().say;
    let apart = false;
    for (const line of lines) {
      const d = differs(line);
      line.querySelector("[data-differs]").textContent = d ? `${number(line, "good")} good, ${d}` : "";
      apart ||= line.querySelector("[data-to]").selectedOptions[0]?.hasAttribute("data-apart") ?? false;
    }
    form.querySelector("p[data-apart]").hidden = !apart;
  }

  form.addEventListener("input", () => { if (counting) tally(counting); refresh(); });
  form.addEventListener("change", refresh);
  form.addEventListener("click", (e) => {
    const line = e.target.closest("[data-line]");
    const panel = line?.querySelector("[data-counts]");
    if (e.target.closest("[data-counts-open]")) {
      counting = line;
      panel.showModal();
      tally(line);
      panel.querySelector("[data-damaged]").focus();
    }
    if (e.target.closest("[data-tally-done]") && tally(line)) finish(line);
    if (e.target.closest("[data-tally-off]")) {
      for (const name of ["damaged", "missing", "extra"]) line.querySelector(`[data-${name}]`).value = "";
      tally(line);
      finish(line);
    }
    if (e.target.closest("[data-to-lines]")) show(faces[0]);
    if (e.target.closest("[data-turn]")) show(faces[(faces.indexOf(shown()) + 1) % faces.length]);
  });

  function finish(line) {
    counting = null;
    line.querySelector("[data-tick]").checked = true;
    line.querySelector("[data-counts]").close();
    refresh();
  }

  around.before = (f) => {
    if (f !== form) return true;
    if (counting) { if (tally(counting)) finish(counting); return false; }
    const step = next();
    if (step.sign) return left().length === 0;
    step.act();
    refresh();
    return false;
  };

  around.sign = () => {
    const list = document.querySelector("[data-summary]");
    const rows = lines.map((l) => [`${number(l, "good")} × ${l.dataset.name}`, differs(l)].filter(Boolean).join(", "));
    const most = 7;
    list.replaceChildren(...[...rows.slice(0, most), ...(rows.length > most ? [`and ${rows.length - most} more lines`] : [])].map((text) => {
      const li = document.createElement("li");
      li.textContent = text;
      return li;
    }));
  };

  // The pallets that were filled, for their prints.
  around.next = (f, answer) => {
    if (f !== form) return null;
    const sheet = form.elements.sheet.value;
    const codes = new Set((answer.events ?? []).flatMap((e) => e.pallets ?? []).filter((c) => c !== sheet));
    return codes.size ? `/separate/printed?pallets=${[...codes].join(",")}` : null;
  };

  show(faces[0]);
}
