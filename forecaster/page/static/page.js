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
    parts.push("soil " + shown(soil, data.sign) + (low !== null ? ", 80 % chance between " + low.toFixed(1) + " and " + high.toFixed(1) : ""));
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
        space: 60, values: (u, ticks) => ticks.map((t, k) => {
          const d = new Date(t * 1000), turn = k === 0 || new Date(ticks[k - 1] * 1000).getUTCFullYear() !== d.getUTCFullYear();
          return d.getUTCDate() + " " + MONTHS[d.getUTCMonth()].slice(0, 3) + (turn ? "\n" + d.getUTCFullYear() : "");
        }) },
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
        const x = u.valToPos(data.mark, "x", true), c = u.ctx;
        c.save(); c.strokeStyle = ink; c.lineWidth = 1.5; c.beginPath();
        c.moveTo(x, u.bbox.top); c.lineTo(x, u.bbox.top + u.bbox.height); c.stroke(); c.restore();
      }],
    },
  };
  data.mark = data.today;
  const level = data.day.map(() => data.threshold);
  const rows = [data.day, data.usual[0], data.usual[2], data.usual[1], data.low, data.high,
    data.fan[0], data.fan[4], data.fan[1], data.fan[3], data.soil, data.fan[2], level, data.typed, data.used];
  const held = box.contains(document.activeElement) ? document.activeElement.dataset.grip : "";
  box.replaceChildren();
  options.hooks.ready = [(u) => {
    u.setCursor({ left: u.valToPos(data.today, "x"), top: 10 });
    grips(u, data, held);
  }];
  return new uPlot(options, rows, box);
}

// What can be dragged on the chart: the soil to reach, and the day as known on. Each is a grip of
// its own for touch and keyboard; a mouse may take the line itself. The form below has the answer.
const iso = (s) => new Date(s * 1000).toISOString().slice(0, 10);
const NEAR = 8, DAY = 86400;

function gripReach(u, data) {
  const field = document.getElementById("threshold");
  return {
    name: "reach", said: "Soil to reach", step: 0.5, big: 2.5,
    least: Number(field.min), most: Number(field.max),
    get: () => data.threshold, text: () => data.threshold.toFixed(1) + " " + data.sign,
    set: (v) => { data.threshold = Math.round(v * 10) / 10; u.data[12].fill(data.threshold); },
    at: (e, box) => Math.round(2 * u.posToVal(e.clientY - box.top, "y")) / 2,
    off: (e, box) => Math.abs(e.clientY - box.top - u.valToPos(data.threshold, "y")),
    place: (el) => { el.style.top = u.valToPos(data.threshold, "y") + "px"; },
    tell: (done) => {
      field.value = data.threshold;
      document.getElementById("reach").value = data.threshold.toFixed(1);
      if (done) field.dispatchEvent(new Event("input", { bubbles: true }));
    },
  };
}

function gripDay(u, data) {
  const field = document.getElementById("issued"), latest = Date.parse(field.max) / 1000;
  return {
    name: "day", said: "As known on", step: DAY, big: 7 * DAY, least: latest - 3650 * DAY, most: latest,
    get: () => data.mark, text: () => day(data.mark),
    set: (v) => { data.mark = DAY * Math.round(v / DAY); },
    at: (e, box) => u.posToVal(e.clientX - box.left, "x"),
    off: (e, box) => Math.abs(e.clientX - box.left - u.valToPos(data.mark, "x")),
    place: (el) => { el.style.left = u.valToPos(data.mark, "x") + "px"; },
    tell: (done) => {
      field.value = iso(data.mark);
      document.getElementById("under").textContent = "As known on " + day(data.mark) + ".";
      if (done) for (const kind of ["input", "change"]) field.dispatchEvent(new Event(kind, { bubbles: true }));
    },
  };
}

function grips(u, data, held) {
  const over = u.over, all = [gripReach(u, data), gripDay(u, data)];
  for (const one of all) {
    const el = document.createElement("div");
    el.className = "grip " + one.name; el.tabIndex = 0; el.dataset.grip = one.name;
    for (const [k, v] of [["role", "slider"], ["aria-label", one.said], ["aria-valuemin", one.least], ["aria-valuemax", one.most]]) el.setAttribute(k, v);
    const show = () => {
      one.place(el);
      el.setAttribute("aria-valuenow", one.get()); el.setAttribute("aria-valuetext", one.text());
    };
    const move = (v, done) => {
      one.set(Math.min(one.most, Math.max(one.least, v)));
      show(); u.redraw(); one.tell(done);
    };
    const drag = (target, e) => {
      e.preventDefault(); e.stopPropagation();
      const box = over.getBoundingClientRect(), before = one.get();
      target.setPointerCapture(e.pointerId); el.classList.add("held");
      const on = (m) => { m.stopPropagation(); move(one.at(m, box), false); };
      const end = (m) => {
        target.removeEventListener("pointermove", on); el.classList.remove("held");
        for (const kind of ["pointerup", "pointercancel"]) target.removeEventListener(kind, end);
        move(m.type === "pointercancel" ? before : one.get(), one.get() !== before && m.type === "pointerup");
      };
      target.addEventListener("pointermove", on);
      for (const kind of ["pointerup", "pointercancel"]) target.addEventListener(kind, end);
    };
    el.addEventListener("pointerdown", (e) => drag(el, e));
    el.addEventListener("keydown", (e) => {
      const way = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1, PageUp: 2, PageDown: -2 }[e.key];
      if (!way) return;
      e.preventDefault();
      move(one.get() + Math.sign(way) * (Math.abs(way) > 1 ? one.big : one.step), true);
    });
    over.addEventListener("pointerdown", (e) => {
      const near = e.pointerType === "mouse" && one.off(e, over.getBoundingClientRect()) < NEAR;
      if (near && e.target === over) drag(over, e);
    });
    over.appendChild(el); show();
    if (held === one.name) el.focus({ preventScroll: true });
  }
  over.addEventListener("pointermove", (e) => {
    const box = over.getBoundingClientRect();
    over.style.cursor = all[0].off(e, box) < NEAR ? "ns-resize" : all[1].off(e, box) < NEAR ? "ew-resize" : "";
  });
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
