// What the reader does: choose, zoom, pan, read off, print.
const canvas = document.getElementById("main");
const cross = document.getElementById("cross");
const stage = document.getElementById("stage");
const readout = document.getElementById("readout");
const items = [...document.querySelectorAll("#list li")];
const cards = [...document.querySelectorAll("#cards figure")];
const HINT = "Point at a curve to read torque, angle and slope; click to choose its run.";
let at = null;
let pending = false;

function redraw() {
  if (pending) return;
  pending = true;
  requestAnimationFrame(() => {
    pending = false;
    at = drawMain(canvas, stage.clientWidth, stage.clientHeight, window.devicePixelRatio);
    drawCrosshair(cross, at, window.devicePixelRatio);
  });
}

function whole() {
  state.view = viewOf(visibleRuns());
}

function say(point) {
  if (!point) { readout.textContent = HINT; return; }
  const { run, index } = point;
  const [angle, torque] = [run.angle[index], run.torque[index]];
  const told = Number.isNaN(torque)
    ? "torque not observable"
    : `${figure(torque, 2)} ± ${figure(2 * run.u[index], 2)} N·m (k = 2), slope ${figure(slope(run, index), 3)} N·m per degree`;
  const since = state.aligned && run.snug ? `, ${figure(angle - run.snug[0], 1)}° from snug` : "";
  readout.textContent = `${run.name}, ${run.word}: at ${figure(angle, 1)}°${since}: ${told}`;
}

function point(to) {
  state.point = to;
  say(to);
  if (at) drawCrosshair(cross, at, window.devicePixelRatio);
}

function select(run, { focus = false } = {}) {
  if (!run) return;
  const before = state.selected;
  for (const [r, on] of [[before, false], [run, true]]) {
    items[r.index].setAttribute("aria-selected", on);
    items[r.index].tabIndex = on ? 0 : -1;
    cards[r.index].classList.toggle("chosen", on);
  }
  state.selected = run;
  if (state.point?.run !== run) state.point = null;
  // Only the list is scrolled, never the page.
  const [list, item] = [items[run.index].parentElement, items[run.index]];
  const over = item.offsetTop - list.offsetTop;
  if (over < list.scrollTop) list.scrollTop = over;
  else if (over + item.offsetHeight > list.scrollTop + list.clientHeight) list.scrollTop = over + item.offsetHeight - list.clientHeight;
  if (focus) item.focus({ preventScroll: true });
  say(state.point);
  redraw();
}

// The run before or after the selected one in the list, of those that are shown.
function neighbour(by) {
  const shown = RUNS.filter((r) => state.shown.has(r.verdict));
  const here = shown.indexOf(state.selected);
  return here < 0 ? shown[0] : shown[Math.max(0, Math.min(shown.length - 1, here + by))];
}

function zoom(factor, x, y, angleOnly) {
  const v = state.view;
  const [w, h] = [(v.x1 - v.x0) * factor, angleOnly ? v.y1 - v.y0 : (v.y1 - v.y0) * factor];
  // Beyond these there is nothing to see.
  if (w < 0.2 || w > 1e6 || h < 0.02 || h > 1e5) return;
  const [fx, fy] = [(x - v.x0) / (v.x1 - v.x0), (y - v.y0) / (v.y1 - v.y0)];
  state.view = { x0: x - fx * w, x1: x + (1 - fx) * w, y0: y - fy * h, y1: y + (1 - fy) * h };
  redraw();
}

// Zooms by key hold on to the crosshair if it is in view, else to the end of a run, the selected first:
// the middle of the plot is mostly empty.
function zoomHere(factor) {
  const inside = (x, y) => x >= state.view.x0 && x <= state.view.x1 && y >= state.view.y0 && y <= state.view.y1;
  const ends = [state.selected, ...visibleRuns().reverse()].filter((r) => r?.last >= 0);
  const places = [state.point, ...ends.map((run) => ({ run, index: run.last }))]
    .filter(Boolean)
    .map((q) => [q.run.angle[q.index] + shift(q.run), q.run.torque[q.index]]);
  const v = state.view;
  zoom(factor, ...(places.find((q) => inside(...q)) ?? [(v.x0 + v.x1) / 2, (v.y0 + v.y1) / 2]), false);
}

function pan(dx, dy) {
  const v = state.view;
  const [w, h] = [(v.x1 - v.x0) * dx, (v.y1 - v.y0) * dy];
  state.view = { x0: v.x0 + w, x1: v.x1 + w, y0: v.y0 + h, y1: v.y1 + h };
  redraw();
}

function step(by) {
  const run = state.selected;
  if (!run || !run.angle.length) return;
  const here = state.point?.run === run ? state.point.index + by : run.last;
  point({ run, index: Math.max(0, Math.min(run.angle.length - 1, here)) });
}

function align() {
  state.aligned = !state.aligned;
  document.querySelector("[data-key='a']").setAttribute("aria-pressed", state.aligned);
  state.point = null;
  say(null);
  whole();
}

// A little of the rundown stays in view, so that the bend at snug is seen. Without a snug point the
// last part of the run stands for it.
function fromSnug() {
  const start = (r) => {
    const snug = r.snug?.[0] ?? r.angles[1] - 0.15 * (r.angles[1] - r.angles[0]);
    return snug - 0.25 * (r.angles[1] - snug);
  };
  if (visibleRuns().includes(state.selected)) state.view = viewOf([state.selected], start);
}

const KEYS = {
  "+": () => zoomHere(0.7), "=": () => zoomHere(0.7), "-": () => zoomHere(1 / 0.7),
  "0": whole, s: fromSnug, f: () => { if (visibleRuns().includes(state.selected)) state.view = viewOf([state.selected]); },
  a: align, ",": () => step(-1), ".": () => step(1),
  "[": () => select(neighbour(-1)), "]": () => select(neighbour(1)),
};
const ARROWS = { ArrowLeft: [-0.1, 0], ArrowRight: [0.1, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };

document.addEventListener("keydown", (e) => {
  if (e.ctrlKey || e.metaKey || e.altKey) return;
  const inList = e.target.closest?.("#list");
  const moves = { ArrowUp: -1, ArrowDown: 1, PageUp: -10, PageDown: 10, Home: -RUNS.length, End: RUNS.length };
  if (inList && e.key in moves) select(neighbour(moves[e.key]), { focus: true });
  else if (e.target === canvas && e.key in ARROWS) pan(...ARROWS[e.key]);
  else if (e.key in KEYS) { KEYS[e.key](); redraw(); }
  else return;
  e.preventDefault();
});

// The nearest drawn point to a place on the canvas, of all runs in view.
function nearest(x, y, reach) {
  let [best, found] = [reach * reach, null];
  for (const run of visibleRuns()) {
    const by = shift(run);
    const [low, high] = [at.angle(x - reach) - by, at.angle(x + reach) - by];
    for (let i = 0; i < run.angle.length; i++) {
      if (run.angle[i] < low || run.angle[i] > high) continue;
      const dx = at.x(run.angle[i] + by) - x;
      const dy = at.y(run.torque[i]) - y;
      // The selected run wins among those that lie together.
      const d = (dx * dx + dy * dy) * (run === state.selected ? 0.5 : 1);
      if (d < best) [best, found] = [d, { run, index: i }];
    }
  }
  return found;
}

let drag = null;
canvas.addEventListener("pointerdown", (e) => {
  drag = { x: e.offsetX, y: e.offsetY, moved: false };
  canvas.setPointerCapture(e.pointerId);
});
canvas.addEventListener("pointermove", (e) => {
  if (!at) return;
  if (!drag) { point(nearest(e.offsetX, e.offsetY, 60)); return; }
  const [dx, dy] = [e.offsetX - drag.x, e.offsetY - drag.y];
  if (!drag.moved && Math.hypot(dx, dy) < 4) return;
  const { left, right, top, bottom } = at.box;
  pan(-dx / (right - left), dy / (bottom - top));
  drag = { x: e.offsetX, y: e.offsetY, moved: true };
});
canvas.addEventListener("pointerup", (e) => {
  if (drag && !drag.moved) select(nearest(e.offsetX, e.offsetY, 60)?.run);
  drag = null;
});
canvas.addEventListener("pointercancel", () => { drag = null; });
canvas.addEventListener("pointerleave", () => { if (!drag) point(null); });
canvas.addEventListener("dblclick", () => { whole(); redraw(); });
canvas.addEventListener("wheel", (e) => {
  if (!at) return;
  const all = viewOf(visibleRuns());
  // Seen whole, the wheel scrolls the page again.
  if (e.deltaY > 0 && state.view.x1 - state.view.x0 >= all.x1 - all.x0) return;
  e.preventDefault();
  zoom(1.0015 ** e.deltaY, at.angle(e.offsetX), at.torque(e.offsetY), e.shiftKey);
}, { passive: false });

document.getElementById("tools").addEventListener("click", (e) => {
  const key = e.target.closest("button")?.dataset.key;
  if (key) { KEYS[key](); redraw(); }
});
document.getElementById("counts").addEventListener("change", (e) => {
  state.shown[e.target.checked ? "add" : "delete"](e.target.value);
  RUNS.forEach((run, i) => { items[i].hidden = cards[i].hidden = !state.shown.has(run.verdict); });
  // A run that is off cannot be the list's stop of the Tab key.
  if (!state.shown.has(state.selected?.verdict)) select(neighbour(0));
  whole();
  redraw();
});
items.forEach((item, i) => item.addEventListener("click", () => select(RUNS[i], { focus: true })));
cards.forEach((card, i) => card.addEventListener("click", () => select(RUNS[i])));

const inSight = new Set();
function drawCard(card) {
  const small = card.querySelector("canvas");
  drawSmall(small, RUNS[card.dataset.run], small.clientWidth || 180, small.clientHeight || 96, window.devicePixelRatio);
}
const watch = new IntersectionObserver((entries) => {
  for (const { target, isIntersecting } of entries) {
    inSight[isIntersecting ? "add" : "delete"](target);
    if (isIntersecting) drawCard(target);
  }
}, { rootMargin: "200px" });
cards.forEach((card) => watch.observe(card));

function redrawAll() {
  redraw();
  inSight.forEach(drawCard);
}
new ResizeObserver(redraw).observe(stage);
window.addEventListener("resize", redrawAll);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", redrawAll);

// Paper is light, wide and fine; the bitmap of the screen would be stretched.
window.addEventListener("beforeprint", () => {
  document.documentElement.classList.add("on-paper");
  drawMain(canvas, 1040, 440, 2.5);
  cards.forEach((card) => drawSmall(card.querySelector("canvas"), RUNS[card.dataset.run], 196, 96, 2.5));
});
window.addEventListener("afterprint", () => {
  document.documentElement.classList.remove("on-paper");
  redrawAll();
});

whole();
select(state.selected);
redraw();
