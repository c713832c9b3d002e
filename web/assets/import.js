// Import: files dropped or chosen, how far they are on their way, and how far
// the server has come with them. Without this script the form still works.

const form = document.querySelector("[data-upload]");
const show = (selector, text) => { const e = document.querySelector(selector); if (e) e.textContent = text; };

function refuse(title, remedy) {
  const said = document.querySelector("[data-refused]");
  show("[data-title]", title);
  show("[data-remedy]", remedy);
  said.hidden = title === "";
  if (title) said.scrollIntoView({ block: "nearest" });
}

function sizeOf(n) {
  if (n < 1024) return `${n} bytes`;
  return n < 1048576 ? `${Math.floor(n / 1024)} KiB` : `${(n / 1048576).toFixed(1)} MiB`;
}

// What the server would refuse after the whole way is refused before it.
function tooMuch(files) {
  const most = Number(form.dataset.most);
  const size = files.reduce((sum, f) => sum + f.size, 0);
  if (size <= most && files.length <= Number(form.dataset.files)) return false;
  refuse(`The files are larger than ${sizeOf(most)} together, or more than ${form.dataset.files} files.`,
    "Nothing was stored. Send fewer at a time, those together that name each other; or import them on the server's own machine.");
  return true;
}

function listChosen(input) {
  const files = Array.from(input.files);
  const list = form.querySelector("[data-chosen]");
  list.replaceChildren(...files.map((f) => {
    const line = document.createElement("li");
    for (const text of [f.name, sizeOf(f.size)]) line.append(Object.assign(document.createElement("span"), { textContent: text }));
    return line;
  }));
  list.hidden = files.length === 0;
  refuse("", "");
  form.querySelector("button[type=submit]").disabled = tooMuch(files);
}

function done(request) {
  let said = {};
  try { said = JSON.parse(request.responseText); } catch { /* no answer of ours */ }
  if (request.status === 200 && said.next) {
    location.assign(said.next);
    return;
  }
  stop();
  refuse(said.title ?? "The server did not answer.", said.remedy ?? "Nothing was stored. The files are still chosen: send them again.");
}

function stop() {
  form.querySelector("[data-progress]").hidden = true;
  form.classList.remove("sending");
  form.querySelector("button[type=submit]").disabled = false;
}

// fetch can't say how much of a request has gone: XMLHttpRequest can.
function send(event) {
  event.preventDefault();
  const button = form.querySelector("button[type=submit]");
  if (button.disabled) return;
  button.disabled = true;
  form.classList.add("sending");
  form.querySelector("[data-progress]").hidden = false;
  const bar = form.querySelector("progress");
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/json");
  request.upload.addEventListener("progress", (e) => {
    if (!e.lengthComputable) return;
    bar.value = Math.round((100 * e.loaded) / e.total);
    show("[data-share]", `${bar.value} %`);
  });
  request.addEventListener("load", () => done(request));
  request.addEventListener("error", () => done(request));
  request.send(new FormData(form));
}

if (form) {
  const input = form.querySelector("input[type=file]");
  input.addEventListener("change", () => listChosen(input));
  form.addEventListener("submit", send);
  form.addEventListener("dragover", (e) => { e.preventDefault(); form.classList.add("over"); });
  form.addEventListener("dragleave", () => form.classList.remove("over"));
  form.addEventListener("drop", (e) => {
    e.preventDefault();
    form.classList.remove("over");
    if (e.dataTransfer.files.length === 0) return;
    input.files = e.dataTransfer.files;
    listChosen(input);
  });
  // A file dropped beside the form would otherwise take the page's place.
  for (const kind of ["dragover", "drop"]) addEventListener(kind, (e) => e.preventDefault());
  if (input.files.length > 0) listChosen(input);
}

const waiting = document.querySelector("[data-wait]");
async function look() {
  try {
    const answer = await fetch(waiting.dataset.wait, { headers: { Accept: "application/json" }, cache: "no-store" });
    const now = await answer.json();
    if (!answer.ok || now.state !== waiting.dataset.state) {
      location.reload();
      return;
    }
    show("[data-seconds]", now.seconds === 1 ? "1 second" : `${now.seconds} seconds`);
  } catch { /* asked again */ }
  setTimeout(look, 500);
}
if (waiting) setTimeout(look, 300);
