// The small plots: one for each run, drawn when they come into sight.
function drawSmall(canvas, run, width, height, scale) {
  const p = palette();
  canvas.width = Math.round(width * scale);
  canvas.height = Math.round(height * scale);
  const c = canvas.getContext("2d");
  c.scale(scale, scale);
  c.font = "11px system-ui, sans-serif";
  if (run.last < 0) {
    c.fillStyle = p.soft;
    c.fillText(run.angle.length ? "torque not observable" : "no curve", 8, height / 2);
    return;
  }
  const aligned = state.aligned;
  state.aligned = false;
  const view = viewOf([run]);
  const at = {
    x: (a) => 4 + ((a - view.x0) / (view.x1 - view.x0)) * (width - 8),
    y: (t) => height - 4 - ((t - view.y0) / (view.y1 - view.y0)) * (height - 8),
    box: { left: 4, right: width - 4, top: 4, bottom: height - 4 },
  };
  drawExpected(c, p, { ...run, snug_window: null, prevailing: null }, at);
  drawRun(c, p, run, at, 1.6, 1);
  if (run.snug) shape(c, "snug", at.x(run.snug[0]), at.y(run.snug[2]), 4, p.snug);
  for (const f of run.findings) {
    shape(c, "alarm", at.x(f.angle), at.y(f.torque ?? 0), 4, p[f.stops ? "bad" : "open"]);
  }
  state.aligned = aligned;
}
