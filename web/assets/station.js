// The work page: one lot and four checks at a time, and one big button that is always the next thing to do.
import { around, signWith } from "./panels.js";
import { aim } from "./pad.js";
import { lackingChecks, lackingField } from "./checks.js";
import { lendPhotos, takeInto, withoutPhotos } from "./photos.js";
import { reportLot } from "./report.js";
import { remember, usual } from "./usual.js";

const form = document.querySelector("form[data-steps]");

// What is wrong, tapped instead of typed.
document.addEventListener("click", (e) => {
  const why = e.target.closest("[data-why]");
  if (!why) return;
  const field = why.closest("dialog, [data-face]").querySelector("[data-why-text]");
  field.value = why.dataset.why;
  field.dispatchEvent(new Event("input", { bubbles: true }));
});

// A word for whoever comes next goes with whichever station is tapped.
document.querySelector("[data-note-for]")?.addEventListener("input", (e) => {
  document.querySelectorAll(`#${e.target.dataset.noteFor} [data-hand-note]`).forEach((f) => { f.value = e.target.value; });
});

// The belt or disc mounted now, where it is not the one on record.
document.addEventListener("click", (e) => {
  const button = e.target.closest("[data-mounted-other]");
  if (button) another(button.closest("[data-mounted]")).focus();
});

function another(box) {
  box.querySelectorAll("[data-mounted-known], [data-mounted-other]").forEach((x) => { x.hidden = true; });
  box.querySelector("label").hidden = false;
  return box.querySelector("[data-abrasive]");
}

document.addEventListener("change", (e) => {
  if (e.target.matches("[data-abrasive]")) e.target.value = e.target.value.trim().toUpperCase();
});

usual(another);
around.sent = remember;

if (form) {
  const go = form.querySelector("[data-go]");
  const lots = [...form.querySelectorAll("[data-lot]")];
  const faces = [...form.querySelectorAll("[data-face]")];
  let at = 0;

  const lotOf = (face) => face.closest("[data-lot]") ?? lots[0];
  const included = (lot) => !lot.disabled;
  const number = (lot, name) => Number(lot.querySelector(`[data-${name}]`)?.value) || 0;
  const good = (lot) => number(lot, "good");
  const begun = (lot) => lot.querySelector("[data-rest-box] :checked")?.value === "begun";

  // Whether the parts not done are begun is asked, and sent, only where there are any.
  function rest(lot) {
    const box = lot.querySelector("[data-rest-box]");
    if (box) box.disabled = box.hidden = number(lot, "not-done") === 0;
  }

  // How many bad of how many looked at, where that is more than the lot's sample accepts; else null.
  function fails(lot) {
    const sample = lot.querySelector("[data-sample]");
    const looked = sample?.querySelector("input:checked");
    const bad = number(lot, "bad");
    return looked && bad > Number(sample.dataset.accept) ? { bad, looked: looked.value } : null;
  }

  const open = () => faces.filter((f) => !f.closest("[data-lot]") || included(lotOf(f)));

  // What the face still lacks: {say, act}, or null.
  function lacking(face) {
    const needed = lackingField(face);
    if (needed) return needed;
    if (face.closest("[data-lot]") && !included(lotOf(face))) return null;
    for (const input of face.querySelectorAll("[data-input]")) {
      if (!input.querySelector("input:checked") && input.querySelector("input")) {
        return { say: `Choose the ${input.dataset.input} batch`, act: () => input.querySelector("input").focus() };
      }
    }
    const sample = face.closest("[data-lot]")?.querySelector("[data-sample]");
    if (sample && !sample.querySelector("input:checked")) {
      return { say: "How many were looked at?", act: () => sample.querySelector("input").focus() };
    }
    if (face.closest("[data-lot]") && good(lotOf(face)) === 0) return null;
    return lackingChecks(face, { say: "Outside: count the bad ones", act: () => count(lotOf(face)) });
  }

  function total() {
    const all = lots.filter(included);
    const sum = (name) => all.reduce((n, lot) => n + number(lot, name), 0);
    const parts = [`${sum("good")} good`];
    if (sum("bad")) parts.push(`${sum("bad")} not`);
    if (sum("not-done")) parts.push(`${sum("not-done")} later`);
    return parts.join(", ");
  }

  function next() {
    const lack = lacking(faces[at]);
    if (lack) return lack;
    const after = open().find((f) => faces.indexOf(f) > at) ?? open().find((f) => lacking(f));
    if (after && faces.indexOf(after) !== at) {
      const same = after.closest("[data-lot]") === faces[at].closest("[data-lot]");
      const lot = lotOf(after);
      const say = !faces[at].closest("[data-lot]") ? "Go on" : same ? "More checks" : `Next: lot ${lot.dataset.letter}`;
      return { say, act: () => show(faces.indexOf(after)) };
    }
    if (form.dataset.word === "Release" && lots.every((l) => good(l) === 0)) return { say: "Refuse and sign", sign: true };
    const failed = lots.filter(included).map(fails).find((x) => x);
    if (failed) return { say: `Refuse the lot: ${failed.bad} bad of ${failed.looked}`, sign: true };
    return { say: `${form.dataset.word} ${total()}`, sign: true };
  }

  function refresh() {
    go.textContent = next().say;
    lots.forEach((lot, i) => {
      const line = document.querySelector(`[data-sum="${i}"]`);
      if (!line) return;
      const failed = fails(lot);
      const parts = failed ? [`refused whole, ${failed.bad} bad of ${failed.looked} looked at`] : [`${number(lot, "good")} good`];
      if (number(lot, "bad")) parts.push(`${number(lot, "bad")} not good: ${lot.querySelector("[data-why-text]").value}`);
      if (number(lot, "not-done")) parts.push(`${number(lot, "not-done")} not done yet, ${begun(lot) ? "in work" : "untouched"}`);
      line.textContent = `${lot.dataset.letter}: ${parts.join(", ")}, ${lot.dataset.name}`;
    });
  }

  function show(i) {
    at = i;
    faces.forEach((f, n) => { f.hidden = n !== i; });
    lots.forEach((lot) => lot.classList.toggle("away", lot !== faces[i].closest("[data-lot]")));
    aim(null);
    refresh();
  }

  // Counts

  let counting = null;

  // Some of a lot are not good, as somebody says or a photo shows that was taken first.
  function someBad(lot, photos = []) {
    const bad = lot.querySelector("[data-bad]");
    const sample = lot.querySelector("[data-sample]");
    if (form.dataset.word === "Release" && !sample) bad.value = lot.dataset.qty;
    else if (!bad.value && !number(lot, "not-done") && (!sample || photos.length)) suggest(bad);
    takeInto(lot, photos);
    count(lot);
  }

  function count(lot) {
    counting = lot;
    const panel = lot.querySelector("[data-counts]");
    const bad = panel.querySelector("[data-bad]");
    lendPhotos(lot, null);
    panel.showModal();
    tally();
    bad.focus();
    bad.select();
  }

  // Whoever says that some are not good means one, mostly. Until that is touched it is a suggestion, and makes room for
  // what is only not done yet.
  function suggest(bad) {
    bad.value = "1";
    bad.dataset.suggested = "yes";
  }
  form.addEventListener("focusin", (e) => {
    const bad = counting?.querySelector("[data-suggested]");
    if (!bad || !e.target.matches("[data-not-done]")) return;
    bad.value = "";
    delete bad.dataset.suggested;
    tally();
  });
  form.addEventListener("input", (e) => {
    if (e.target.matches("[data-bad], [data-why-text]")) delete counting?.querySelector("[data-bad]").dataset.suggested;
  });

  function tally() {
    const qty = Number(counting.dataset.qty);
    const bad = number(counting, "bad"), later = number(counting, "not-done");
    const message = counting.querySelector("[data-tally-message]");
    const left = Math.max(0, qty - bad - later);
    const said = { good: left, bad, notDone: later, total: left + bad + later };
    const over = counting.querySelector("[data-counts]").dataset.over;
    const sample = counting.querySelector("[data-sample]");
    message.textContent = bad + later > qty ? over.replace(/\{(\w+)\}/g, (_, name) => said[name])
      : sample && bad > Number(sample.dataset.accept) ? sample.dataset.fails : "";
    counting.querySelector("[data-good]").value = left;
    for (const [name, other] of [["bad", later], ["not-done", bad]]) {
      const field = counting.querySelector(`[data-${name}]`);
      if (field) field.dataset.most = Math.max(0, qty - other);
    }
    counting.querySelector("[data-badge-says]").textContent = message.textContent ? "" : badgeSays();
    counting.querySelector("[data-why-box]").hidden = bad === 0;
    counting.querySelector("[data-why-words]").hidden = bad === 0;
    rest(counting);
    counting.querySelector("[data-photo-box]").hidden = bad === 0 && !counting.querySelector("[data-photo-box] li");
    return bad + later <= qty;
  }

  // Whether the counts may be used; if so their panel is closed.
  function tallied() {
    if (!tally()) return false;
    const why = counting.querySelector("[data-why-text]");
    if (number(counting, "bad") > 0 && !why.value.trim()) {
      counting.querySelector("[data-tally-message]").textContent = "Say what is wrong with the bad ones.";
      counting.querySelector("[data-badge-says]").textContent = "";
      return false;
    }
    counting.querySelector("[data-counts]").close();
    refresh();
    return true;
  }

  // Bad ones may go to quarantine before the step is signed: the good ones go on.
  const reportsNow = () => number(counting, "bad") > 0 && counting.querySelector("[data-counts]").hasAttribute("data-now");

  // A badge scanned into the panel signs what there is to sign: the step, or else what is bad.
  function badgeSays() {
    if (next().sign) return `A badge scanned here signs: ${total()}.`;
    return reportsNow() ? `A badge scanned here reports ${number(counting, "bad")} of ${counting.dataset.qty}, and the others stay.` : "";
  }

  form.addEventListener("badge", (e) => {
    e.preventDefault();
    if (!tallied()) return;
    if (next().sign) signWith(form, e.detail);
    else if (reportsNow()) reportLot(counting, e.detail);
    refresh();
  });

  form.addEventListener("input", () => { if (counting?.querySelector("dialog[open]")) tally(); refresh(); });
  form.addEventListener("change", (e) => {
    if (e.target.matches("[data-shot]") && e.target.files.length) {
      someBad(lotOf(faces[at]), e.target.files);
      e.target.value = "";
    }
    refresh();
  });
  form.addEventListener("click", (e) => {
    if (e.target.closest("[data-not-good]")) someBad(lotOf(faces[at]));
    if (e.target.closest("[data-tally-done]")) tallied();
    if (e.target.closest("[data-report-now]") && number(counting, "bad") > 0 && tallied()) reportLot(counting);
    if (e.target.closest("[data-tally-off]")) {
      for (const name of ["bad", "not-done", "why-text"]) {
        const f = counting.querySelector(`[data-${name}]`);
        if (f) f.value = "";
      }
      withoutPhotos(counting);
      tally();
      counting.querySelector("[data-counts]").close();
      refresh();
    }
  });

  // The big button: the form goes out only when nothing is lacking.
  around.before = (f) => {
    if (f !== form) return true;
    if (counting?.querySelector("dialog[open]")) { tallied(); return false; }
    const step = next();
    document.querySelector("[data-done-line]").hidden = true;
    if (step.sign) return true;
    step.act();
    refresh();
    return false;
  };

  around.narrow = (f, others) => {
    if (f !== form) return;
    lots.forEach((lot, i) => include(i, others.includes(lot.dataset.lotId)));
  };

  function include(i, on) {
    lots[i].disabled = !on;
    const tick = document.querySelector(`[data-include="${i}"]`);
    if (tick) tick.checked = on;
    refresh();
  }

  document.querySelectorAll("[data-include]").forEach((tick) => {
    tick.addEventListener("change", () => include(Number(tick.dataset.include), tick.checked));
  });

  // With the hand-over chosen, the pallet leaves: the next page is the station at rest.
  const here = form.dataset.next;
  document.addEventListener("change", (e) => {
    if (e.target.name === "handTo") form.dataset.next = e.target.value ? "/station" : here;
  });

  lots.forEach(rest);
  show(0);
}
