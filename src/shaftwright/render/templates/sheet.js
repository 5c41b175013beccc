"use strict";
// The face of the sheet: shots are tapped, the row's own line is looked up, everything is kept in this browser.
const by = (id) => document.getElementById(id);
const NS = "http://www.w3.org/2000/svg";
const fresh = () => ({ row: 1, kind: "fletched", fletched: [], bare: [], marks: "not_looked", ends: [] });
let state = fresh();
let saved = true;
try {
  state = Object.assign(fresh(), JSON.parse(localStorage.getItem(KEY) || "{}"));
} catch (fault) {
  saved = false;
}
const row = () => SHEET.rows.find((one) => one.number === state.row) || SHEET.rows[0];
const scale = () => row().yards / 20;
const reach = () => (SHEET.stop + 4) * scale();
let cursor = null;

function mean(points) {
  return [0, 1].map((axis) => points.reduce((sum, p) => sum + p[axis], 0) / points.length);
}

function spread(points) {
  const middle = mean(points);
  const sum = points.reduce((s, p) => s + (p[0] - middle[0]) ** 2 + (p[1] - middle[1]) ** 2, 0);
  return Math.sqrt(sum / (points.length - 1) / 2);
}

// one bare shaft far from the middle of the others is a flier, left out as `next` leaves it out
function held() {
  const all = state.bare;
  const apart = all.map((p, at) => {
    const others = mean(all.filter((_, other) => other !== at));
    return Math.hypot(p[0] - others[0], p[1] - others[1]) / scale();
  });
  const most = Math.max(...apart);
  return all.length > 2 && most > SHEET.flier ? all.filter((_, at) => apart[at] !== most) : all;
}

// how far right and up the bare lie, square to the bow, as at 20 yd
function offset() {
  const one = mean(state.fletched), two = mean(held()), turn = (SHEET.cant * Math.PI) / 180;
  const x = (two[0] - one[0]) / scale(), y = (two[1] - one[1]) / scale();
  return [x * Math.cos(turn) - y * Math.sin(turn), x * Math.sin(turn) + y * Math.cos(turn)];
}

const group = () => Math.max(spread(state.fletched), spread(held())) / scale() <= SHEET.void;
// the same arrow as the bow is set now, kept before
const earlier = () => state.ends.filter((end) => end.aside !== null && SHEET.rows[end.row - 1].same === row().same);

// what the row says of the shots: told in words, and the row to go to
function verdict() {
  const { fletched, bare } = state;
  if (state.marks === "plate" || state.marks === "shelf") return { told: "Marks: stop, note it, ask next.", row: null };
  if (fletched.length !== 3 || bare.length !== 3) {
    return { told: `Shoot three and three: ${fletched.length} fletched, ${bare.length} bare so far.`, row: undefined };
  }
  if (!group()) return { told: "No group: shoot this row again.", row: state.row };
  const [own, up] = offset(), before = earlier();
  const aside = (own + before.reduce((sum, end) => sum + end.aside, 0)) / (before.length + 1);
  const far = (inches, at) => `${shown(Math.abs(inches) * at)} ${inches < 0 ? "left" : "right"}`;
  const flier = held().length < bare.length ? "One flier left out. " : "";
  const seen = `Bare ${far(own, scale())}. ${flier}${before.length ? `Middle of ${before.length + 1} ends: ${far(aside, scale())}. ` : ""}`;
  if (Math.abs(up) > SHEET.height) {
    const next = row().ways[0].row || state.row;
    return { told: `${flier}Bare ${shown(Math.abs(up) * scale())} ${up < 0 ? "low: nocking point down" : "high: nocking point up"}, then row ${next}.`, row: next, up };
  }
  const side = Math.abs(aside) <= row().within ? "" : aside < 0 ? "left" : "right";
  const lines = row().ways.filter((w) => w.side === side);
  if (Math.abs(aside) > SHEET.stop && state.marks !== "none") {
    return { told: `${seen}Stop: look for marks, and say above what you found.`, row: null };
  }
  const way = lines.find((w) => Math.abs(aside) <= w.to + 1e-9) || lines[lines.length - 1];
  return { told: `${seen}${way.row ? `Row ${way.row}: ${SHEET.rows[way.row - 1].arrow}.` : `Next: ${way.go}.`}`, row: way.row };
}

function shown(inches) {
  if (SHEET.metric) return `${(inches * 2.54).toFixed(0)} cm`;
  const quarters = Math.round(inches * 4), parts = ["", " 1/4", " 1/2", " 3/4"];
  const whole = Math.floor(quarters / 4), part = parts[quarters % 4];
  return `${whole || !part ? whole + part : part.trim()} in`;
}

function keep() {
  try {
    localStorage.setItem(KEY, JSON.stringify(state));
  } catch (fault) {
    saved = false;
  }
  draw();
}

function make(name, given, text) {
  const made = document.createElementNS(NS, name);
  for (const [key, value] of Object.entries(given)) made.setAttribute(key, value);
  if (text) made.textContent = text;
  return made;
}

function draw() {
  const now = row(), size = reach(), line = size / 90;
  by("now").textContent = `Row ${now.number}: ${now.arrow}, ${now.distance}${now.again ? `, ${now.again}` : ""}.`;
  const svg = make("svg", { viewBox: `${-size} ${-size} ${2 * size} ${2 * size}`, "aria-hidden": "true" });
  for (const far of [3, 6, 12]) svg.append(make("circle", { class: "ring", r: far * scale(), "stroke-width": line / 2 }));
  for (const way of [[1, 0], [0, 1]]) {
    svg.append(make("line", { class: "aim", x1: -way[0] * size / 12, y1: -way[1] * size / 12, x2: way[0] * size / 12, y2: way[1] * size / 12, "stroke-width": line }));
  }
  for (const kind of ["fletched", "bare"]) {
    for (const [x, y] of state[kind]) svg.append(make("circle", { class: `hit-${kind}`, cx: x, cy: -y, r: size / 28, "stroke-width": line * 1.5 }));
  }
  if (cursor) svg.append(make("circle", { class: "ghost", cx: cursor[0], cy: -cursor[1], r: size / 20, "stroke-width": line }));
  by("target").replaceChildren(svg);
  for (const kind of ["fletched", "bare"]) {
    by(kind).textContent = `${kind === "bare" ? "Bare" : "Fletched"} ${state[kind].length} of 3`;
    by(kind).setAttribute("aria-pressed", String(state.kind === kind));
  }
  const found = verdict();
  by("answer").textContent = found.told + (saved ? "" : " This browser keeps nothing: copy before you leave.");
  by("marks").value = state.marks;
  by("keep").disabled = found.row === undefined || !state.bare.length;
  by("undo").disabled = !state.fletched.length && !state.bare.length;
  by("drop").disabled = !state.ends.length;
  by("copy").disabled = !state.ends.length;
  by("count").textContent = String(state.ends.length);
  by("log").replaceChildren(...state.ends.map((end) => {
    const item = document.createElement("li");
    item.textContent = `row ${end.row}: ${end.told}`;
    return item;
  }));
  for (const one of SHEET.rows) by(`row-${one.number}`).classList.toggle("here", one.number === state.row);
}

function hit(x, y) {
  if (state[state.kind].length >= 3 && state.kind === "bare") return;
  const quarter = (value) => Math.round(value * 4) / 4;
  state[state.kind].push([quarter(x), quarter(y)]);
  if (state.fletched.length >= 3) state.kind = "bare";
  keep();
}

by("target").addEventListener("click", (event) => {
  const box = by("target").querySelector("svg").getBoundingClientRect(), size = reach();
  hit(((event.clientX - box.left) / box.width * 2 - 1) * size, (1 - (event.clientY - box.top) / box.height * 2) * size);
});
by("target").addEventListener("keydown", (event) => {
  const ways = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }, way = ways[event.key];
  if (way) {
    cursor = cursor || [0, 0];
    cursor = [cursor[0] + way[0] / 2, cursor[1] + way[1] / 2];
    event.preventDefault();
    draw();
  } else if (event.key === "Enter" && cursor) {
    hit(...cursor);
  }
});
for (const kind of ["fletched", "bare"]) {
  by(kind).addEventListener("click", () => {
    state.kind = kind;
    keep();
  });
}
by("undo").addEventListener("click", () => {
  const kind = state.bare.length ? "bare" : "fletched";
  state[kind].pop();
  state.kind = kind;
  keep();
});
by("marks").addEventListener("change", () => {
  state.marks = by("marks").value;
  keep();
});
by("keep").addEventListener("click", () => {
  const found = verdict(), now = row(), when = new Date(), two = (n) => String(n).padStart(2, "0");
  if (found.row === undefined) return;
  const date = `${when.getFullYear()}-${two(when.getMonth() + 1)}-${two(when.getDate())}`;
  // the time makes two ends alike two entries, and the same end pasted twice one
  const remark = `sheet ${[when.getHours(), when.getMinutes(), when.getSeconds()].map(two).join(".")}`;
  const last = state.ends.length ? state.ends[state.ends.length - 1].row : null;
  const entries = [];
  if (now.change && last !== now.number) entries.push({ ...now.change, date, remark });
  const entry = { ...now.entry, date, remark, marks: state.marks };
  const moved = found.up ? (found.up < 0 ? -SHEET.step : SHEET.step) : 0;
  if (state.fletched.length) entry.fletched = state.fletched;
  if (state.bare.length) entry.bare = state.bare.map((at) => ({ at }));
  entries.push(entry);
  if (moved) {
    const told = [...state.ends.flatMap((end) => end.entries), ...entries].map((one) => (one.rig_state || {}).nocking_point);
    const stands = told.filter((place) => place !== undefined).pop() ?? SHEET.nocking;
    const set = typeof stands === "number" ? { rig_state: { nocking_point: stands + moved } } : {};
    entries.push({ kind: "change", what: "nocking_point", date, remark, ...set });
  }
  const whole = state.fletched.length === 3 && state.bare.length === 3 && group();
  state.ends.push({ row: now.number, told: found.told, entries, aside: whole ? offset()[0] : null });
  Object.assign(state, { fletched: [], bare: [], kind: "fletched", marks: "not_looked", row: found.row || now.number });
  cursor = null;
  keep();
});
by("drop").addEventListener("click", () => {
  const end = state.ends.pop(), entry = end.entries.find((one) => one.kind === "bareshaft");
  Object.assign(state, { row: end.row, fletched: entry.fletched || [], bare: (entry.bare || []).map((b) => b.at), kind: "bare", marks: entry.marks });
  keep();
});
by("copy").addEventListener("click", async () => {
  const lines = state.ends.flatMap((end) => end.entries).map((entry) => `- ${JSON.stringify(entry)}`).join("\n") + "\n";
  by("lines").value = lines;
  by("lines").hidden = false;
  by("lines").select();
  try {
    await navigator.clipboard.writeText(lines);
    by("copy").textContent = "Copied";
  } catch (fault) {
    by("copy").textContent = "Copy the lines below";
  }
});
by("face").hidden = false;
draw();
