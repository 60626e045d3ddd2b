// The main plot: a canvas, drawn anew for every change of view.
const FONT = "12px system-ui, sans-serif";
const LANE = 18;
const ANGLE_STEPS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 45, 90, 180, 360, 720, 1440, 3600, 7200, 36000];

function palette() {
  const style = getComputedStyle(document.documentElement);
  const names = ["paper", "panel", "ink", "soft", "line", "ok", "bad", "open", "band", "snug"];
  return Object.fromEntries(names.map((n) => [n, style.getPropertyValue(`--${n}`).trim()]));
}

function shape(c, kind, x, y, r, colour) {
  c.beginPath();
  if (kind === "ok") c.arc(x, y, r, 0, 2 * Math.PI);
  else if (kind === "bad") { c.moveTo(x, y - r); c.lineTo(x + r, y + r); c.lineTo(x - r, y + r); c.closePath(); }
  else if (kind === "snug") { c.moveTo(x, y - r); c.lineTo(x + r, y); c.lineTo(x, y + r); c.lineTo(x - r, y); c.closePath(); }
  else if (kind === "alarm") { c.moveTo(x - r, y - r); c.lineTo(x + r, y + r); c.moveTo(x + r, y - r); c.lineTo(x - r, y + r); }
  else c.rect(x - r, y - r, 2 * r, 2 * r);
  if (kind === "ok" || kind === "bad" || kind === "snug") { c.fillStyle = colour; c.fill(); }
  else { c.strokeStyle = colour; c.lineWidth = 2.5; c.stroke(); }
}

// The curve with its lowest and highest point in each column of pixels kept: a peak is evidence,
// an average would hide it. Points outside the plot end the stroke; gaps stay gaps.
function trace(c, run, at, left, right) {
  const by = shift(run);
  let [column, low, high, last] = [NaN, 0, 0, 0];
  let before = null;
  const close = () => {
    if (low < high) { c.lineTo(column, low); c.lineTo(column, high); c.lineTo(column, last); }
    low = high;
  };
  let down = false;
  c.beginPath();
  for (let i = 0; i < run.angle.length; i++) {
    const [x, y] = [at.x(run.angle[i] + by), at.y(run.torque[i])];
    if (Number.isNaN(y)) { close(); down = false; before = null; column = NaN; continue; }
    if (x < left || x > right) {
      if (down) { close(); c.lineTo(x, y); }
      down = false; before = [x, y]; column = NaN;
      continue;
    }
    if (!down && before) { c.moveTo(...before); down = true; }
    if (Math.round(x) !== column) {
      close();
      if (down) c.lineTo(x, y); else c.moveTo(x, y);
      down = true; column = Math.round(x); low = high = last = y;
    } else { low = Math.min(low, y); high = Math.max(high, y); last = y; }
    before = null;
  }
  close();
}

// The area between torque − U and torque + U, k = 2.
function uncertaintyBand(c, run, at) {
  const by = shift(run);
  let start = 0;
  const fill = (end) => {
    if (end - start < 2) return;
    c.beginPath();
    for (let i = start; i < end; i++) c.lineTo(at.x(run.angle[i] + by), at.y(run.torque[i] + 2 * run.u[i]));
    for (let i = end - 1; i >= start; i--) c.lineTo(at.x(run.angle[i] + by), at.y(run.torque[i] - 2 * run.u[i]));
    c.fill();
  };
  for (let i = 0; i <= run.angle.length; i++) {
    if (i < run.angle.length && !Number.isNaN(run.torque[i] + run.u[i])) continue;
    fill(i);
    start = i + 1;
  }
}

// Stretches of angle in which the bolt turned and its torque was not observable: said, not drawn.
function drawUntold(c, p, run, at) {
  const { left, right, bottom } = at.box;
  const by = shift(run);
  c.strokeStyle = p.open;
  c.lineWidth = 5;
  c.textAlign = "center";
  for (let i = 0, end = 0; i < run.angle.length; i = end + 1) {
    for (end = i; end < run.angle.length && Number.isNaN(run.torque[end]);) end++;
    if (end === i) continue;
    const a = Math.max(left, at.x(run.angle[Math.max(0, i - 1)] + by));
    const b = Math.min(right, at.x(run.angle[Math.min(end, run.angle.length - 1)] + by));
    if (!(a < b)) continue;
    c.setLineDash([3, 4]);
    c.beginPath(); c.moveTo(a, bottom - 3); c.lineTo(b, bottom - 3); c.stroke();
    c.setLineDash([]);
    const text = "torque not observable here";
    const width = c.measureText(text).width;
    if (b - a < width + 20) continue;
    c.fillStyle = p.paper;
    c.fillRect((a + b - width) / 2 - 4, bottom - 44, width + 8, 18);
    c.fillStyle = p.open;
    c.fillText(text, (a + b) / 2, bottom - 31);
  }
}

function ticks(low, high, room, steps) {
  const least = (high - low) / room;
  const power = 10 ** Math.floor(Math.log10(least));
  const step = steps?.find((s) => s >= least) ?? [1, 2, 5, 10].map((f) => f * power).find((s) => s >= least);
  const all = [];
  for (let k = Math.ceil(low / step); k * step <= high; k++) all.push(k * step);
  return [all, step < 1 ? Math.ceil(-Math.log10(step)) : 0];
}

// Labels above the plot for what has an angle, in as many lanes as keep them apart.
function tagsOf(run, at, left, right, c) {
  const by = shift(run);
  const tags = [];
  if (run.snug) {
    tags.push({ x: at.x(run.snug[0] + by), torque: run.snug[2], kind: "snug", colour: "snug",
      text: `snug ${figure(run.snug[0], 1)}° ± ${figure(2 * run.snug[1], 1)}°` });
  }
  for (const f of run.findings) {
    tags.push({ x: at.x(f.angle + by), torque: f.torque ?? 0, kind: "alarm", colour: f.stops ? "bad" : "open",
      text: `${f.label} ${figure(f.angle, 1)}°` });
  }
  const shown = tags.filter((t) => t.x >= left && t.x <= right);
  const ends = [];
  for (const tag of shown.sort((a, b) => a.x - b.x)) {
    tag.width = c.measureText(tag.text).width;
    tag.from = Math.max(left, Math.min(tag.x - tag.width / 2, right - tag.width));
    tag.lane = ends.findIndex((end) => end < tag.from);
    if (tag.lane < 0) tag.lane = ends.length;
    ends[tag.lane] = tag.from + tag.width + 12;
  }
  return [shown, ends.length];
}

// Labels beside the plot for what has a torque, moved apart where they would touch.
function sideLabels(run, view) {
  const labels = [];
  if (run.target) {
    const [t, half] = run.target;
    labels.push([t + half, `${figure(t + half, 1)} window`], [t, `${figure(t, 1)} target`], [t - half, `${figure(t - half, 1)} window`]);
  }
  if (run.prevailing) labels.push([run.prevailing[1], `${figure(run.prevailing[1], 1)} prevailing`]);
  return labels.filter(([t]) => t >= view.y0 && t <= view.y1).sort((a, b) => b[0] - a[0]);
}

function drawMain(canvas, width, height, scale) {
  const [p, view, run] = [palette(), state.view, state.selected];
  const runs = visibleRuns();
  const chosen = runs.includes(run) ? run : null;
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const c = canvas.getContext("2d");
  c.scale(scale, scale);
  c.font = FONT;
  const [left, right, bottom] = [56, width - 108, height - 42];
  const at = { x: (a) => left + ((a - view.x0) / (view.x1 - view.x0)) * (right - left) };
  const [tags, lanes] = chosen ? tagsOf(chosen, at, left, right, c) : [[], 0];
  const top = 10 + LANE * Math.max(1, lanes) + (chosen?.snug_window ? LANE : 0);
  at.y = (t) => bottom - ((t - view.y0) / (view.y1 - view.y0)) * (bottom - top);
  at.angle = (x) => view.x0 + ((x - left) / (right - left)) * (view.x1 - view.x0);
  at.torque = (y) => view.y0 + ((bottom - y) / (bottom - top)) * (view.y1 - view.y0);
  Object.assign(at, { box: { left, right, top, bottom }, width, height });

  drawGrid(c, p, view, at);
  c.save();
  c.beginPath();
  c.rect(left, top, right - left, bottom - top);
  c.clip();
  if (chosen) drawExpected(c, p, chosen, at);
  const faint = Math.min(0.7, Math.max(0.12, 15 / Math.max(1, runs.length)));
  for (const r of runs) {
    if (r !== chosen) drawRun(c, p, r, at, r.verdict === "bad" ? 1.5 : 1.1, r.verdict === "bad" ? Math.max(0.3, faint) : faint);
  }
  if (chosen) {
    // Ink on a rim of paper lifts the chosen run off a thousand others; its end keeps the colour.
    c.strokeStyle = p.paper;
    c.lineWidth = 6;
    trace(c, chosen, at, left - 20, right + 20);
    c.stroke();
    c.globalAlpha = 0.25;
    c.fillStyle = p[chosen.verdict];
    uncertaintyBand(c, chosen, at);
    drawRun(c, p, chosen, at, 2.6, 1, p.ink);
    drawUntold(c, p, chosen, at);
  }
  c.restore();
  if (chosen) drawLabels(c, p, chosen, view, at, tags);
  const hidden = RUNS.length - runs.length;
  const empty = runs.length === 0 ? `0 of ${RUNS.length} runs are shown` : "";
  const why = state.aligned && hidden ? `${hidden} without a snug point or switched off` : "";
  c.fillStyle = p.soft;
  c.textAlign = "left";
  c.fillText([runs.some((r) => r.invented) ? "invented scenario, simulated data" : "", empty, why].filter(Boolean).join(" · "), left, height - 4);
  return at;
}

function drawGrid(c, p, view, at) {
  const { left, right, top, bottom } = at.box;
  c.strokeStyle = p.line;
  c.fillStyle = p.soft;
  c.lineWidth = 1;
  c.beginPath();
  const [xs, xDigits] = ticks(view.x0, view.x1, (right - left) / 80, ANGLE_STEPS);
  c.textAlign = "center";
  for (const a of xs) {
    c.moveTo(at.x(a), top); c.lineTo(at.x(a), bottom);
    c.fillText(figure(a, xDigits), at.x(a), bottom + 16);
  }
  const [ys, yDigits] = ticks(view.y0, view.y1, (bottom - top) / 45);
  c.textAlign = "right";
  for (const t of ys) {
    c.moveTo(left, at.y(t)); c.lineTo(right, at.y(t));
    c.fillText(figure(t, yDigits), left - 8, at.y(t) + 4);
  }
  c.stroke();
  c.strokeStyle = p.soft;
  c.strokeRect(left, top, right - left, bottom - top);
  c.fillStyle = p.ink;
  c.fillText(`bolt angle, degrees from ${state.aligned ? "the snug point" : "the start of the run"}`, right, bottom + 33);
  c.save();
  c.translate(15, (top + bottom) / 2);
  c.rotate(-Math.PI / 2);
  c.textAlign = "center";
  c.fillText("bolt torque, N·m", 0, 0);
  c.restore();
}

// What was asked for and expected of the run: shaded, under everything else.
function drawExpected(c, p, run, at) {
  const { left, right, top, bottom } = at.box;
  const across = (low, high, alpha) => {
    c.globalAlpha = alpha;
    c.fillRect(left, at.y(high), right - left, at.y(low) - at.y(high));
  };
  c.fillStyle = p.band;
  if (run.snug_window) {
    const [a, b] = run.snug_window.map((x) => at.x(x + shift(run)));
    c.globalAlpha = 0.13;
    c.fillRect(a, top, b - a, bottom - top);
  }
  if (run.prevailing) across(...run.prevailing, 0.3);
  if (run.target) {
    const [t, half] = run.target;
    across(t - half, t + half, 0.28);
    c.globalAlpha = 1;
    c.strokeStyle = p.band;
    c.lineWidth = 1.5;
    c.beginPath(); c.moveTo(left, at.y(t)); c.lineTo(right, at.y(t)); c.stroke();
  }
  c.globalAlpha = 1;
}

function drawRun(c, p, run, at, width, alpha, colour = p[run.verdict]) {
  const { left, right } = at.box;
  c.globalAlpha = alpha;
  c.strokeStyle = colour;
  c.lineWidth = width;
  c.lineJoin = "bevel";
  c.setLineDash(run.verdict === "open" ? [6, 3] : []);
  trace(c, run, at, left - 20, right + 20);
  c.stroke();
  c.setLineDash([]);
  if (run.last >= 0) {
    c.globalAlpha = Math.max(alpha, run.verdict === "ok" ? 0.4 : 0.9);
    shape(c, run.verdict, at.x(run.angle[run.last] + shift(run)), at.y(run.torque[run.last]), 2.5 + width, p[run.verdict]);
  }
  c.globalAlpha = 1;
}

function drawLabels(c, p, run, view, at, tags) {
  const { left, right, top, bottom } = at.box;
  c.textAlign = "left";
  const height = (tag) => top - 6 - LANE * tag.lane - (run.snug_window ? LANE : 0);
  for (const tag of tags) {
    const end = Math.max(top, Math.min(bottom, at.y(tag.torque)));
    c.strokeStyle = p[tag.colour];
    c.lineWidth = 1;
    c.setLineDash([2, 3]);
    c.beginPath(); c.moveTo(tag.x, height(tag) + 4); c.lineTo(tag.x, end); c.stroke();
    c.setLineDash([]);
    if (end === at.y(tag.torque)) shape(c, tag.kind, tag.x, end, 6, p[tag.colour]);
  }
  // After all lines, so that none runs through a word.
  const words = (text, from, y, width, colour) => {
    c.fillStyle = p.paper;
    c.fillRect(from - 2, y - 11, width + 4, 14);
    c.fillStyle = colour;
    c.fillText(text, from, y);
  };
  for (const tag of tags) words(tag.text, tag.from, height(tag), tag.width, p[tag.colour]);
  if (run.snug_window) {
    const [a, b] = run.snug_window.map((x) => Math.max(left, Math.min(right, at.x(x + shift(run)))));
    if (b > a) {
      const text = "expected snug";
      const width = c.measureText(text).width;
      c.strokeStyle = p.band;
      c.lineWidth = 3;
      c.beginPath(); c.moveTo(a, top - 2); c.lineTo(b, top - 2); c.stroke();
      words(text, Math.max(left, Math.min((a + b - width) / 2, right - width)), top - 7, width, p.soft);
    }
  }
  c.fillStyle = p.soft;
  let y = -Infinity;
  for (const [torque, text] of sideLabels(run, view)) {
    y = Math.max(at.y(torque) + 4, y + 15);
    c.fillText(text, right + 8, y);
  }
}

// On a sheet of its own, so that pointing does not draw a thousand curves anew.
function drawCrosshair(sheet, at, scale) {
  const [point, p] = [state.point, palette()];
  sheet.width = Math.round(at.width * scale);
  sheet.height = Math.round(at.height * scale);
  const c = sheet.getContext("2d");
  c.scale(scale, scale);
  if (!point) return;
  const { left, right, top, bottom } = at.box;
  const [x, y] = [at.x(point.run.angle[point.index] + shift(point.run)), at.y(point.run.torque[point.index])];
  if (!(x >= left && x <= right && y >= top && y <= bottom)) return;
  c.strokeStyle = p.ink;
  c.lineWidth = 1;
  c.beginPath();
  c.moveTo(x, top); c.lineTo(x, bottom); c.moveTo(left, y); c.lineTo(right, y);
  c.stroke();
  c.beginPath(); c.arc(x, y, 5, 0, 2 * Math.PI); c.stroke();
}
