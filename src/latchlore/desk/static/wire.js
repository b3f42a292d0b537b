// The drawing of a capture: any stretch at any zoom, drawn anew from what the desk gives for just so many pixels.

import { isTyping } from "./desk.js";

const canvas = document.querySelector("canvas.capture");
const told = document.getElementById("told");
const whole = { from: Number(canvas.dataset.begin), to: Math.max(Number(canvas.dataset.end), Number(canvas.dataset.begin) + 1) };
const file = canvas.dataset.file;
const LINE = 46;
const TOP = 46;
const LEVEL = 22;
const LEAST_PS = 100;
const BYTE_WIDTH = 30;
const read = [...document.querySelectorAll(".bytes button[data-at]")].map((one) => ({
  at: Number(one.dataset.at),
  words: one.textContent.trim().replace(/\s+/g, " "),
  isDoubtful: Boolean(one.closest(".doubtful")),
}));
const UNITS = [[1e12, "s"], [1e9, "ms"], [1e6, "us"], [1e3, "ns"], [1, "ps"]];

let shown = { ...whole };
let drawn = null;
let marks = [];
let isAsking = false;
let isStale = false;

function timeWords(ps) {
  const size = Math.abs(ps);
  const [unit, name] = UNITS.find(([one]) => size >= one) ?? [1, "ps"];
  return `${Number((ps / unit).toPrecision(9))} ${name}`;
}

function inks() {
  const style = getComputedStyle(document.documentElement);
  const ink = (name) => style.getPropertyValue(`--${name}`).trim();
  return { ink: ink("ink"), soft: ink("soft"), rule: ink("rule"), bar: ink("bar"), second: ink("bar-two"), bad: ink("bad"), sheet: ink("sheet") };
}

const chosen = () => [...document.querySelectorAll("input[name=line]:checked")].map((one) => one.value);

async function ask() {
  if (isAsking) {
    isStale = true;
    return;
  }
  isAsking = true;
  if (!drawn) told.textContent = "The capture is being read.";
  do {
    isStale = false;
    const asked = { ...shown };
    const wanted = new URLSearchParams({ file, from: Math.floor(asked.from), to: Math.ceil(asked.to), width: Math.max(50, Math.floor(canvas.clientWidth)) });
    for (const name of chosen()) wanted.append("line", name);
    try {
      const answer = await fetch(`wire-stretch?${wanted}`);
      if (answer.ok) {
        drawn = await answer.json();
        draw();
      } else {
        told.textContent = "The desk could not give this stretch.";
      }
    } catch {
      told.textContent = "The desk has been closed.";
    }
  } while (isStale);
  isAsking = false;
}

function draw() {
  if (!drawn) return;
  const colours = inks();
  const width = canvas.clientWidth;
  const height = TOP + drawn.channels.length * LINE + 8;
  const ratio = window.devicePixelRatio || 1;
  canvas.height = Math.round(height * ratio);
  canvas.width = Math.round(width * ratio);
  canvas.style.height = `${height}px`;
  const pen = canvas.getContext("2d");
  pen.scale(ratio, ratio);
  pen.clearRect(0, 0, width, height);
  const scale = width / (shown.to - shown.from);
  const place = (ps) => (ps - shown.from) * scale;
  drawTimes(pen, colours, width, height, place);
  drawn.channels.forEach((channel, index) => {
    const top = TOP + index * LINE;
    pen.fillStyle = colours.soft;
    pen.font = "12px monospace";
    pen.fillText(`${channel.name}${channel.edges ? `  ${channel.edges} edges here` : ""}`, 2, top + 12);
    if (channel.columns) drawColumns(pen, colours, channel, top + 18, place);
    else drawEdges(pen, colours, channel, top + 18, place, width);
  });
  drawBytes(pen, colours, place, width);
  pen.strokeStyle = colours.bad;
  for (const mark of marks) {
    pen.beginPath();
    pen.moveTo(place(mark), TOP - 8);
    pen.lineTo(place(mark), height);
    pen.stroke();
  }
  const edges = drawn.channels.reduce((sum, one) => sum + one.edges, 0);
  const between = marks.length === 2 ? `; between the marks ${timeWords(Math.abs(marks[1] - marks[0]))}` : "";
  const mark = marks.length ? `; mark at ${timeWords(marks[marks.length - 1])}` : "";
  told.textContent = `From ${timeWords(shown.from)}, ${timeWords(shown.to - shown.from)} long, ${edges} edges${mark}${between}.`;
  canvas.setAttribute("aria-label", told.textContent);
}

function drawTimes(pen, colours, width, height, place) {
  const rough = (shown.to - shown.from) / Math.max(2, width / 140);
  const power = 10 ** Math.floor(Math.log10(rough));
  const step = Math.max(1, [1, 2, 5, 10].map((one) => one * power).find((one) => one >= rough));
  pen.strokeStyle = colours.rule;
  pen.fillStyle = colours.soft;
  pen.font = "11px monospace";
  for (let at = Math.ceil(shown.from / step) * step; at <= shown.to; at += step) {
    const x = Math.round(place(at)) + 0.5;
    pen.beginPath();
    pen.moveTo(x, TOP - 8);
    pen.lineTo(x, height);
    pen.stroke();
    pen.fillText(timeWords(at), x + 3, 12);
  }
}

function drawBytes(pen, colours, place, width) {
  const seen = read.filter((one) => place(one.at) > -BYTE_WIDTH && place(one.at) < width);
  if (!seen.length || seen.length * BYTE_WIDTH > width * 1.2) return;
  pen.font = "13px monospace";
  for (const one of seen) {
    pen.fillStyle = one.isDoubtful ? colours.bad : colours.ink;
    pen.fillText(`${one.words}${one.isDoubtful ? "?" : ""}`, place(one.at) + 2, 32);
  }
}

const heights = (top) => ({ 1: top, 0: top + LEVEL, x: top + LEVEL / 2, z: top + LEVEL / 2 });

function drawEdges(pen, colours, channel, top, place, width) {
  const begins = [drawn.start_ps, ...channel.times.map((time) => drawn.start_ps + time)];
  const values = [channel.before, ...channel.values];
  const at = heights(top);
  const isLine = channel.kind === "logic";
  values.forEach((value, k) => {
    if (value === "") return;
    const left = Math.max(-2, place(begins[k]));
    const right = Math.min(width + 2, k + 1 < begins.length ? place(begins[k + 1]) : place(Math.min(drawn.end_ps, drawn.stop_ps)));
    pen.strokeStyle = value === "x" ? colours.bad : colours.ink;
    pen.setLineDash(value === "x" ? [4, 3] : value === "z" ? [1, 3] : []);
    pen.lineWidth = 1.6;
    if (isLine) {
      const y = at[value] ?? top + LEVEL / 2;
      pen.beginPath();
      if (k && values[k - 1] !== "") pen.moveTo(left, at[values[k - 1]] ?? top + LEVEL / 2);
      else pen.moveTo(left, y);
      pen.lineTo(left, y);
      pen.lineTo(right, y);
      pen.stroke();
    } else {
      pen.setLineDash([]);
      pen.strokeStyle = colours.soft;
      pen.strokeRect(left, top, right - left, LEVEL);
      if (right - left > 9 * value.length) {
        pen.fillStyle = colours.ink;
        pen.font = "12px monospace";
        pen.fillText(value, Math.max(left, 0) + 4, top + 15);
      }
    }
    pen.setLineDash([]);
  });
}

function drawColumns(pen, colours, channel, top, place) {
  const length = (drawn.end_ps - drawn.start_ps) / channel.columns;
  const most = Math.max(...channel.counts, 1);
  for (let k = 0; k < channel.columns; k += 1) {
    const seen = Number.parseInt(channel.seen[k], 16);
    const left = place(drawn.start_ps + k * length);
    const wide = Math.max(1, place(drawn.start_ps + (k + 1) * length) - left);
    if (!seen) continue;
    const count = channel.counts[k];
    if (count) {
      pen.globalAlpha = 0.35 + 0.65 * Math.sqrt(count / most);
      pen.fillStyle = colours.bar;
      pen.fillRect(left, top, wide, LEVEL);
      pen.globalAlpha = 1;
    } else {
      pen.fillStyle = seen & 4 ? colours.bad : colours.ink;
      if (seen & 1) pen.fillRect(left, top + LEVEL - 1, wide, 1.6);
      if (seen & 2) pen.fillRect(left, top, wide, 1.6);
      if (seen & 12) pen.fillRect(left, top + LEVEL / 2, wide, 1.6);
    }
  }
}

function show(from, to) {
  const length = Math.min(Math.max(to - from, LEAST_PS), (whole.to - whole.from) * 1.2);
  const middle = (from + to) / 2;
  const least = whole.from - 0.1 * (whole.to - whole.from);
  const last = whole.to + 0.1 * (whole.to - whole.from);
  const start = Math.min(Math.max(middle - length / 2, least), last - length);
  shown = { from: start, to: start + length };
  draw();
  ask();
}

const move = (part) => show(shown.from + part * (shown.to - shown.from), shown.to + part * (shown.to - shown.from));

function zoom(factor, middle = (shown.from + shown.to) / 2) {
  show(middle - (middle - shown.from) * factor, middle + (shown.to - middle) * factor);
}

function goTo(ps) {
  const length = Math.min(shown.to - shown.from, Number(canvas.dataset.near) || (whole.to - whole.from) / 20);
  marks = [ps];
  show(ps - length / 2, ps + length / 2);
}

const acts = {
  nearer: () => zoom(0.5),
  farther: () => zoom(2),
  earlier: () => move(-0.25),
  later: () => move(0.25),
  all: () => show(whole.from, whole.to),
};
for (const button of document.querySelectorAll("button[data-act]")) button.addEventListener("click", acts[button.dataset.act]);
for (const button of document.querySelectorAll("button[data-at]")) {
  button.addEventListener("click", () => {
    goTo(Number(button.dataset.at));
    canvas.scrollIntoView({ block: "nearest" });
  });
}
for (const box of document.querySelectorAll("input[name=line]")) box.addEventListener("change", ask);

const KEYS = { "+": "nearer", "-": "farther", ArrowLeft: "earlier", ArrowRight: "later", Home: "all" };
document.addEventListener("keydown", (event) => {
  if (isTyping(event)) return;
  const isHere = document.activeElement === canvas || !event.key.startsWith("Arrow");
  if (KEYS[event.key] && isHere) {
    event.preventDefault();
    acts[KEYS[event.key]]();
  }
});

let held = null;
canvas.addEventListener("pointerdown", (event) => {
  held = { x: event.clientX, from: shown.from, to: shown.to, moved: false };
  canvas.setPointerCapture(event.pointerId);
});
canvas.addEventListener("pointermove", (event) => {
  if (!held) return;
  const by = ((held.x - event.clientX) / canvas.clientWidth) * (held.to - held.from);
  held.moved = held.moved || Math.abs(event.clientX - held.x) > 4;
  if (held.moved) show(held.from + by, held.to + by);
});
canvas.addEventListener("pointerup", (event) => {
  if (held && !held.moved) {
    const box = canvas.getBoundingClientRect();
    marks = [...marks.slice(-1), shown.from + ((event.clientX - box.left) / box.width) * (shown.to - shown.from)];
    draw();
  }
  held = null;
});
canvas.addEventListener("wheel", (event) => {
  if (!event.ctrlKey) return;
  event.preventDefault();
  const box = canvas.getBoundingClientRect();
  zoom(event.deltaY > 0 ? 1.25 : 0.8, shown.from + ((event.clientX - box.left) / box.width) * (shown.to - shown.from));
}, { passive: false });
window.addEventListener("resize", ask);
window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", draw);

const asked = Number(canvas.dataset.at);
if (canvas.dataset.at) goTo(asked);
else ask();
