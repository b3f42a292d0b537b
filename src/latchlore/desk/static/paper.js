// A mark on the strip leads to its byte; f and b go from byte to byte.

import { isTyping } from "./desk.js";

for (const tile of document.querySelectorAll(".tile")) {
  tile.addEventListener("click", (event) => {
    const box = tile.querySelector("img").getBoundingClientRect();
    const scale = Number(tile.dataset.width) / box.width;
    const x = Math.max(0, Math.round((event.clientX - box.left) * scale));
    const y = Math.max(0, Math.round((event.clientY - box.top) * scale));
    location.href = `paper-mark?${tile.dataset.query}&tile=${tile.dataset.tile}&x=${x}&y=${y}`;
  });
}

const bytes = [...document.querySelectorAll(".span-bytes a")];
const chosen = bytes.findIndex((one) => one.classList.contains("chosen"));
bytes[chosen]?.scrollIntoView({ block: "center" });
document.querySelector(".tile:has(.lit)")?.scrollIntoView({ block: "nearest" });

document.addEventListener("keydown", (event) => {
  if (isTyping(event)) return;
  const by = { f: 1, b: -1 }[event.key];
  if (by) bytes[Math.min(bytes.length - 1, Math.max(0, chosen + by))]?.click();
});
