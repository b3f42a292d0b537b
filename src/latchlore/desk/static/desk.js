// What every page does by itself: a digit goes to a room, n and p go from one thing to the next, and a word when files
// change.

const EVERY_MS = 2000;
const STEPS = "tbody.row, [data-step]";

export function isTyping(event) {
  if (event.altKey || event.ctrlKey || event.metaKey) return true;
  const field = event.target.closest?.("input, textarea, select, [contenteditable]");
  return Boolean(field) && !["checkbox", "radio", "button", "submit"].includes(field.type);
}

function step(by) {
  const rows = [...document.querySelectorAll(STEPS)];
  if (!rows.length) return;
  const here = rows.indexOf(document.activeElement?.closest(STEPS));
  const next = rows[Math.min(rows.length - 1, Math.max(0, here + by))];
  next.focus();
  next.scrollIntoView({ block: "nearest" });
}

document.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || isTyping(event)) return;
  if (event.key === "n") step(1);
  if (event.key === "p") step(-1);
  if (/^[1-9]$/.test(event.key)) document.querySelector(`[data-digit="${event.key}"]`)?.click();
});

const known = document.documentElement.dataset.version;
const word = document.getElementById("changed");

async function look() {
  try {
    const answer = await fetch("version");
    const { version } = await answer.json();
    word.hidden = version === known;
  } catch {
    // The desk has been closed; the page stays readable.
  }
}

if (known) setInterval(look, EVERY_MS);

// A page with something unfinished asks for itself again, and shows the whole when that is there.
const unfinished = document.querySelector("[data-unfinished]");
let isTyped = false;

async function follow() {
  try {
    const answer = await fetch(location.href);
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const still = page.querySelector("[data-unfinished]");
    if (!still && isTyped) unfinished.textContent = "Done: look again when what you type is sent.";
    else if (!still) location.reload();
    else if (still.textContent !== unfinished.textContent) unfinished.textContent = still.textContent;
  } catch {
    unfinished.textContent = "The desk has been closed.";
  }
}

if (unfinished) {
  document.addEventListener("input", () => { isTyped = true; });
  setInterval(follow, EVERY_MS / 4);
}
