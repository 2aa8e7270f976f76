// The live chart, files dropped, and what forms say while they are filled in. No data leaves.
"use strict";

const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();
const MONTHS = ["January", "February", "March", "April", "May", "June", "July", "August",
  "September", "October", "November", "December"];
const day = (s) => { const d = new Date(s * 1000); return d.getUTCDate() + " " + MONTHS[d.getUTCMonth()]; };
const shown = (v, sign) => v === null || v === undefined ? null : v.toFixed(1) + " " + sign;

const percent = (p) => p < 0.01 ? "<1 %" : p > 0.99 ? ">99 %" : Math.round(100 * p) + " %";

function under(chart, data) {
  // Say the day under the pointer in words.
  const at = chart.cursor.idx;
  const out = document.getElementById("under");
  if (!out || at === null || at === undefined) return;
  const parts = [day(data.day[at])];
  const soil = data.soil[at] ?? data.fan[2][at];
  if (soil !== null) {
    const low = data.soil[at] !== null ? data.low[at] : data.fan[0][at];
    const high = data.soil[at] !== null ? data.high[at] : data.fan[4][at];
    parts.push("soil " + shown(soil, data.sign) + (low !== null ? ", 4 in 5 between " + low.toFixed(1) + " and " + high.toFixed(1) : ""));
  }
  if (data.typed[at] !== null) parts.push("you read " + shown(data.typed[at], data.sign) + (data.used[at] !== null ? ", as the day's mean " + data.used[at].toFixed(1) : ""));
  if (data.usual[1][at] !== null) parts.push("past years " + shown(data.usual[1][at], data.sign));
  if (data.chance[at] !== null && data.day[at] >= data.today) parts.push("settled by then: " + percent(data.chance[at]));
  out.textContent = parts.join(" · ") + ".";
}

function draw(box, data) {
  const ink = css("--ink"), umber = css("--umber"), clay = css("--clay"), sand = css("--sand"),
    chalk = css("--chalk"), edge = css("--edge");
  const line = (label, stroke, width, more) => Object.assign({ label, stroke, width, points: { show: false } }, more || {});
  const none = { stroke: "transparent", points: { show: false } };
  const dots = (label, stroke, fill, size) => ({ label, stroke, fill, paths: () => null, points: { show: true, size, stroke, fill, width: 2 } });
  const options = {
    width: box.clientWidth, height: box.clientWidth < 600 ? 330 : 430,
    padding: [10, 10, 0, 0], legend: { show: false },
    cursor: { y: false, drag: { x: false, y: false }, points: { size: 9 } },
    tzDate: (ts) => uPlot.tzDate(new Date(ts * 1000), "UTC"),
    scales: { x: { time: true } },
    axes: [
      { stroke: ink, grid: { stroke: chalk }, ticks: { stroke: edge }, font: "14px Georgia, serif",
        space: 60, values: (u, ticks) => ticks.map((t) => { const d = new Date(t * 1000); return d.getUTCDate() + " " + MONTHS[d.getUTCMonth()].slice(0, 3); }) },
      { stroke: ink, grid: { stroke: chalk }, ticks: { stroke: edge }, font: "14px Georgia, serif", size: 62,
        values: (u, ticks) => ticks.map((t) => t + "°") },
    ],
    series: [
      {},
      Object.assign({}, none), Object.assign({}, none),            // past years, 1-2
      line("past years", edge, 1, { dash: [2, 4] }),               // 3
      Object.assign({}, none), Object.assign({}, none),            // soil band, 4-5
      Object.assign({}, none), Object.assign({}, none),            // fan 10-90, 6-7
      Object.assign({}, none), Object.assign({}, none),            // fan 25-75, 8-9
      line("soil", umber, 2.5),                                    // 10
      line("ahead", umber, 2, { dash: [7, 4] }),                   // 11
      line("threshold", ink, 1.5, { dash: [12, 4, 2, 4] }),        // 12
      dots("as typed", ink, css("--paper"), 7),                    // 13
      dots("as used", ink, ink, 6),                                // 14
    ],
    bands: [
      { series: [2, 1], fill: chalk }, { series: [5, 4], fill: sand },
      { series: [7, 6], fill: sand }, { series: [9, 8], fill: clay },
    ],
    hooks: {
      setCursor: [(u) => under(u, data)],
      draw: [(u) => {
        const x = u.valToPos(data.today, "x", true), c = u.ctx;
        c.save(); c.strokeStyle = ink; c.lineWidth = 1.5; c.beginPath();
        c.moveTo(x, u.bbox.top); c.lineTo(x, u.bbox.top + u.bbox.height); c.stroke(); c.restore();
      }],
    },
  };
  const level = data.day.map(() => data.threshold);
  const rows = [data.day, data.usual[0], data.usual[2], data.usual[1], data.low, data.high,
    data.fan[0], data.fan[4], data.fan[1], data.fan[3], data.soil, data.fan[2], level, data.typed, data.used];
  box.replaceChildren();
  options.hooks.ready = [(u) => u.setCursor({ left: u.valToPos(data.today, "x"), top: 10 })];
  return new uPlot(options, rows, box);
}

let last = null;
async function load() {
  const box = document.getElementById("chart"), ask = document.getElementById("ask");
  if (!box || !ask || typeof uPlot === "undefined") return;
  const query = new URLSearchParams(location.search);
  if (last !== null) for (const [k, v] of new FormData(ask)) query.set(k, v);
  query.set("bed", box.dataset.bed);
  const answer = await fetch("/bed/soil.json?" + query.toString());
  if (!answer.ok) return;
  last = await answer.json();
  draw(box, last);
}

function start() {
  load();
  const ask = document.getElementById("ask");
  if (ask) {
    let wait = 0;
    const again = () => { clearTimeout(wait); wait = setTimeout(load, 350); };
    ask.addEventListener("input", (event) => {
      if (event.target.id === "threshold") document.getElementById("reach").value = event.target.value;
      again();
    });
    addEventListener("resize", () => { if (last) draw(document.getElementById("chart"), last); });
  }
  for (const form of document.querySelectorAll("form[data-drop]")) {
    const field = form.querySelector("input[type=file]");
    form.addEventListener("dragover", (e) => { e.preventDefault(); form.classList.add("over"); });
    form.addEventListener("dragleave", () => form.classList.remove("over"));
    form.addEventListener("drop", (e) => {
      e.preventDefault(); form.classList.remove("over");
      if (e.dataTransfer.files.length) field.files = e.dataTransfer.files;
    });
    const check = () => {
      const big = field.files.length && field.files[0].size > 40e6;
      field.setCustomValidity(big ? "That file is larger than 40 MB. Cut it into years." : "");
    };
    field.addEventListener("change", check);
  }
}
addEventListener("DOMContentLoaded", start);
