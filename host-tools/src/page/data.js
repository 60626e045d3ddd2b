"use strict";

// The runs as the page carries them, and what is worked out from them once.
const DATA = JSON.parse(document.getElementById("data").textContent);

// Differences in steps back to figures; null is a gap and becomes NaN.
function figures(differences) {
  let at = 0;
  return Float32Array.from(differences, (d) => (d === null ? NaN : (at += d) / DATA.steps));
}

// Lowest and highest figure, gaps left out.
function range(figures, low = Infinity, high = -Infinity) {
  for (const x of figures) {
    if (x < low) low = x;
    if (x > high) high = x;
  }
  return [low, high];
}

const RUNS = DATA.runs.map((run, index) => {
  const angle = figures(run.angle);
  const torque = figures(run.torque);
  const told = angle.filter((_, i) => !Number.isNaN(torque[i]));
  return {
    ...run, index, angle, torque, u: figures(run.u),
    // Where the torque was told, if anywhere: the plot is of torque.
    angles: range(told.length ? told : angle), torques: range(torque),
    last: torque.findLastIndex((t) => !Number.isNaN(t)),
  };
});

// Accepted first, rejected last: what is drawn last is on top.
const ORDER = { ok: 0, open: 1, bad: 2 };

const state = {
  shown: new Set(["ok", "open", "bad"]),
  selected: RUNS.find((r) => r.verdict === "bad") ?? RUNS.find((r) => r.verdict === "open") ?? RUNS[0],
  aligned: false,
  view: null,
  // Index of the point under the crosshair, in the selected run or the one pointed at.
  point: null,
};

// What is added to a run's angles; NaN where it cannot be aligned.
function shift(run) {
  if (!state.aligned) return 0;
  return run.snug ? -run.snug[0] : NaN;
}

function visibleRuns() {
  return RUNS.filter((run) => state.shown.has(run.verdict) && !Number.isNaN(shift(run)))
    .sort((a, b) => ORDER[a.verdict] - ORDER[b.verdict] || a.index - b.index);
}

// The view that holds these runs, from where each one starts or from `from(run)`.
function viewOf(runs, from = (run) => run.angles[0]) {
  let [x0, x1, y1] = [Infinity, -Infinity, 0];
  let y0 = 0;
  const told = runs.filter((run) => run.last >= 0);
  for (const run of told.length ? told : runs) {
    if (!run.angle.length) continue;
    x0 = Math.min(x0, from(run) + shift(run));
    x1 = Math.max(x1, run.angles[1] + shift(run));
    if (run.last >= 0) [y0, y1] = [Math.min(y0, run.torques[0]), Math.max(y1, run.torques[1])];
    y1 = Math.max(y1, run.target ? run.target[0] + run.target[1] : 0);
  }
  if (!(x0 < x1)) [x0, x1] = Number.isFinite(x0) ? [x0 - 1, x0 + 1] : [0, 360];
  if (!(y0 < y1)) y1 = y0 + 1;
  const [dx, dy] = [0.02 * (x1 - x0), 0.05 * (y1 - y0)];
  return { x0: x0 - dx, x1: x1 + dx, y0: y0 < 0 ? y0 - dy : 0, y1: y1 + dy };
}

// Slope by least squares over the points around one, N·m per degree, or NaN.
function slope(run, index, half = 4) {
  let [n, sx, sy, sxx, sxy] = [0, 0, 0, 0, 0];
  for (let i = Math.max(0, index - half); i <= Math.min(run.angle.length - 1, index + half); i++) {
    if (Number.isNaN(run.torque[i])) continue;
    const [x, y] = [run.angle[i] - run.angle[index], run.torque[i]];
    n += 1; sx += x; sy += y; sxx += x * x; sxy += x * y;
  }
  const spread = n * sxx - sx * sx;
  return n > 2 && spread > 1e-6 ? (n * sxy - sx * sy) / spread : NaN;
}

function figure(x, digits) {
  return Number.isFinite(x) ? x.toFixed(digits).replace(/^-(?=0\.?0*$)/, "").replace("-", "−") : "—";
}
