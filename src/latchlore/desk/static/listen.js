// While a run is being heard: its bytes and its paper, several times a second.

const EVERY_MS = 300;
const live = document.getElementById("live");
const tail = document.getElementById("tail");
const strip = document.getElementById("strip");
let known = -1;

async function look() {
  try {
    const heard = await (await fetch("wire-heard")).json();
    if (heard.count !== known) {
      known = heard.count;
      tail.textContent = heard.tail;
      if (strip) strip.src = `wire-strip.png?${known}`;
    }
    if (heard.ended) location.reload();
    else {
      live.textContent = `${heard.count} bytes so far`;
      setTimeout(look, EVERY_MS);
    }
  } catch {
    live.textContent = "The desk has been closed; what was heard is kept.";
  }
}

if (live.dataset.ended === "no") look();
