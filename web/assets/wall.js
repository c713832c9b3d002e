// The wall: follows the server, takes turns in the column of stops, and blanks itself rather than show what may be stale.

const silence = 3000;   // ms without a word before the page gives up
const turnTime = 9000;  // ms a turn is shown
const retry = 1500;     // ms before asking again after an end

const byId = (id) => document.getElementById(id);
const main = byId("wall"), pageBox = byId("page"), lost = byId("lost"), clock = byId("clock");

let heard = performance.now();  // when the server was last heard
let heardText = "";             // and its own time then
let serverTime = Date.parse(clock.dateTime);
let stream;

function lasting(ms) {
  const h = Math.floor(ms / 3600000);
  if (h < 1) return `${Math.max(0, Math.floor(ms / 60000))} min`;
  return h < 48 ? `${h} h` : `${Math.floor(h / 24)} d`;
}

const now = () => serverTime + (performance.now() - heard);

function ages() {
  for (const t of document.querySelectorAll("[data-since]")) {
    t.textContent = lasting(now() - Date.parse(t.dataset.since));
  }
}

function turns() {
  const all = [...document.querySelectorAll("[data-turn]")];
  if (!all.length) return;
  const at = Math.floor(Date.now() / turnTime) % all.length;
  all.forEach((t, i) => { t.hidden = i !== at; });
  document.querySelectorAll(".pips i").forEach((p, i) => p.classList.toggle("now", i === at));
}

// Only a beat says that what is shown is true now.
function beat(said) {
  heard = performance.now();
  serverTime = Date.parse(said);
  heardText = said.slice(11, 19);
  clock.textContent = heardText;
  clock.dateTime = said;
}

function show(live) {
  if (lost.hidden === live) return;
  byId("heard").textContent = heardText ? `since ${heardText}` : "yet";
  lost.hidden = live;
  pageBox.hidden = !live;
}

function follow() {
  stream = new EventSource("/wall/live");
  stream.addEventListener("wall", (e) => {
    main.innerHTML = e.data;
    ages();
    turns();
  });
  stream.addEventListener("beat", (e) => beat(e.data));
  stream.addEventListener("error", () => {
    stream.close();
    setTimeout(follow, retry);
  });
}

follow();
turns();
setInterval(() => show(performance.now() - heard < silence), 200);
setInterval(turns, 500);
setInterval(ages, 5000);
