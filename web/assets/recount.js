// A lot counted again. What is recorded stands there: one part fewer or more is one tap, and the big button says what the
// difference comes to before anybody signs it, so the server need not ask.
import { around } from "./panels.js";
import { chosen, follow, named } from "./report.js";

const form = document.querySelector("#recount form");

if (form) {
  const go = form.querySelector("[data-recount-go]");
  const hint = form.querySelector("[data-recount-hint]");
  const { found, recorded } = form.elements;
  const signs = hint.textContent;

  const difference = () => (found.value === "" ? 0 : Number(found.value) - chosen(form));

  function refresh() {
    // Another lot is chosen: what is recorded of it stands there.
    if (Number(recorded.value) !== chosen(form)) found.value = recorded.value = chosen(form);
    const by = difference();
    go.textContent = by < 0 ? `Record ${found.value}: ${-by} not there` : by > 0 ? `Record ${found.value}: ${by} more` : "How many are there?";
    hint.textContent = by ? signs : "Nothing to record yet.";
    form.dataset.says = `${found.value} there, ${recorded.value} on record${named(form)}`;
  }

  follow(form, refresh);

  const ready = around.before;
  around.before = (f) => {
    if (f !== form) return ready(f);
    if (difference()) return true;
    found.focus();
    return false;
  };
}
