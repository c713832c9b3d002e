// A form worked through face by face, with one big button that is always the next thing to do.
import { around } from "./panels.js";
import { aim, overCount } from "./pad.js";
import { lackingChecks, lackingField } from "./checks.js";

const form = document.querySelector("form[data-faces]");

/** Brings the form back to its first face, or up to date; a page calls it when faces came or went. */
export let refresh = () => {};

if (form) {
  const go = form.querySelector("[data-go]");
  const back = form.querySelector("[data-face-back]");
  const leave = form.querySelector("[data-face-leave]");
  const all = [...form.querySelectorAll("[data-face]")];
  let at = all[0];

  const faces = () => all.filter((f) => !f.matches(":disabled"));
  const follows = () => faces()[faces().indexOf(at) + 1];

  function next() {
    const lack = overCount(at) ?? lackingField(at) ?? lackingChecks(at);
    if (lack) return lack;
    const other = follows();
    if (other) return { say: other.dataset.say, act: () => show(other) };
    return { say: form.dataset.word, sign: true };
  }

  function show(face) {
    at = face;
    all.forEach((f) => { f.hidden = f !== at; });
    back.hidden = at === all[0];
    leave.hidden = !back.hidden;
    aim(at.querySelector("[data-aim]"));
    refresh();
  }

  refresh = () => {
    if (!faces().includes(at)) at = all[0];
    go.textContent = next().say;
  };

  form.addEventListener("input", () => refresh());
  form.addEventListener("change", () => refresh());
  back.addEventListener("click", () => show(faces()[faces().indexOf(at) - 1]));

  around.before = (f) => {
    if (f !== form) return true;
    const step = next();
    if (step.sign) return true;
    step.act();
    refresh();
    return false;
  };

  show(at);
}
