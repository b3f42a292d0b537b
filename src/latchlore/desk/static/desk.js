// What the page does by itself: n and p from subject to subject, and a word when files change.

const EVERY_MS = 2000;

function step(by) {
  const rows = [...document.querySelectorAll("tbody.row")];
  if (!rows.length) return;
  const here = rows.indexOf(document.activeElement?.closest("tbody.row"));
  const next = rows[Math.min(rows.length - 1, Math.max(0, here + by))];
  next.focus();
  next.scrollIntoView({ block: "nearest" });
}

document.addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey) return;
  if (event.target.closest?.("input, textarea, select") && event.target.type !== "checkbox") return;
  if (event.key === "n") step(1);
  if (event.key === "p") step(-1);
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
