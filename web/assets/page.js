// What every page does: the clock, whether the server answers, day and night colours.

const root = document.documentElement;

function isNight() {
  if (root.dataset.light) return root.dataset.light === "night";
  return matchMedia("(prefers-color-scheme: dark)").matches;
}

function lightSwitch(button) {
  const label = () => { button.textContent = isNight() ? "Day" : "Night"; };
  label();
  button.addEventListener("click", () => {
    root.dataset.light = isNight() ? "day" : "night";
    try { localStorage.setItem("light", root.dataset.light); } catch { /* lasts for this page only */ }
    label();
  });
}

// The clock shows the server's time, carried on by what has passed on the tablet
// since: a tablet whose own clock is wrong still shows the shop's time.
function clock(element) {
  const [, hour, minute, second] = element.dateTime.match(/T(\d\d):(\d\d):(\d\d)/).map(Number);
  const start = (hour * 60 + minute) * 60 + second;
  const began = Date.now();
  const two = (n) => String(n).padStart(2, "0");
  const show = () => {
    const s = start + Math.floor((Date.now() - began) / 1000);
    element.textContent = `${two(Math.floor(s / 3600) % 24)}:${two(Math.floor(s / 60) % 60)}`;
  };
  setInterval(show, 5000);
}

/** Says on the page whether the server answers. */
export function inTouch(good) {
  const block = document.querySelector("[data-touch]");
  if (!block) return;
  const back = good && block.dataset.touch === "lost";
  block.dataset.touch = good ? "good" : "lost";
  if (back) document.dispatchEvent(new Event("in-touch"));
}

async function askHealth() {
  try {
    const answer = await fetch("/healthz", { cache: "no-store", signal: AbortSignal.timeout(4000) });
    inTouch(answer.ok);
  } catch {
    inTouch(false);
  }
}

document.querySelectorAll("[data-light-switch]").forEach(lightSwitch);
document.querySelectorAll("[data-clock]").forEach(clock);
if (document.querySelector("[data-touch]")) {
  setInterval(askHealth, 10000);
  addEventListener("offline", () => inTouch(false));
  addEventListener("online", askHealth);
}
