// What the server said, on the page: a refusal in its panel, and what was recorded in the line at the foot.

const part = (root, name) => root.querySelector(`[data-part="${name}"]`);
const capital = (s) => (s ? s[0].toUpperCase() + s.slice(1) : "");

/** Fills the panel of a refusal from its problem document; gives how many other lots could go on. */
export function fill(panel, problem) {
  panel.classList.toggle("asks", !!problem.ask);
  part(panel, "flag").textContent = problem.ask ? "Look first. Nothing was recorded." : "Stop. Nothing was recorded.";
  part(panel, "title").textContent = problem.title ?? "The shop's server refused this.";
  part(panel, "why").textContent = problem.why ?? "";
  part(panel, "remedy").textContent = (problem.remedy ?? problem.detail ?? "").replace(/^Nothing was recorded\. /, "");
  const who = part(panel, "who");
  who.textContent = [capital(problem.who).replace(/[^.]$/, "$&."), problem.absolute ? "No concession exists for this rule." : ""].filter(Boolean).join(" ");
  who.parentElement.hidden = !who.textContent;
  const n = problem.others?.length ?? 0;
  part(panel, "others").textContent = n === 1 ? "Go on with the other lot" : `Go on with the ${n} other lots`;
  return n;
}

// A PIN goes out with its sixth digit, and many press Enter after it all the same. That Enter must not press a button
// of a panel that came up under it and that nobody has read: the panel has the focus, its buttons are one Tab away.
export function show(panel) {
  if (!panel.open) panel.showModal();
  panel.tabIndex = -1;
  panel.focus();
}

/** Offers a panel's button, or hides it. */
export function offer(button, on, act) {
  button.hidden = !on;
  button.onclick = act;
}

/** Keeps what the next page is to say was recorded. */
export function leaveWord({ text, history, notices }) {
  sessionStorage.setItem("done", JSON.stringify({ text, history, notices: (notices ?? []).map((n) => n.title).filter(Boolean) }));
}

/** Says what was recorded last, once. */
export function sayDone() {
  const line = document.querySelector("[data-done-line]");
  const last = sessionStorage.getItem("done");
  if (!line || !last) return;
  sessionStorage.removeItem("done");
  const { text, history, notices } = JSON.parse(last);
  part(line, "text").textContent = text ?? "Recorded";
  part(line, "notices").textContent = (notices ?? []).join(" ");
  const link = part(line, "history");
  link.hidden = !history;
  if (history) link.href = history;
  line.hidden = false;
}

