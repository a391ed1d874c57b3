// Tape measures along the upper and the left edge of the window, in inches.

export function drawTapes(context, ratio, camera) {
  const inch = 25.4 * camera.scale;
  const every = [1, 2, 6, 12, 24].find((n) => n * inch >= 46) || 48;
  const wide = 20;
  context.save();
  context.setTransform(ratio, 0, 0, ratio, 0, 0);
  context.fillStyle = "rgba(255, 252, 240, 0.92)";
  context.fillRect(0, 0, camera.window[0], wide);
  context.fillRect(0, 0, wide, camera.window[1]);
  context.fillStyle = "#4a3f31";
  context.strokeStyle = "#8a7c66";
  context.lineWidth = 1;
  context.font = "11px system-ui, sans-serif";
  const [x0, y0] = camera.toScreen(0, 0);
  const steps = (size) => Array.from({ length: Math.floor(size / 25.4 / every) + 1 }, (_, k) => k * every);
  context.beginPath();
  for (const n of steps(camera.size[0])) {
    const x = x0 + n * inch;
    if (x < wide + 4) continue;
    context.moveTo(x, wide - 6);
    context.lineTo(x, wide);
    context.fillText(String(n), x + 3, 13);
  }
  for (const n of steps(camera.size[1])) {
    const y = y0 + n * inch;
    if (y < wide + 12) continue;
    context.moveTo(wide - 6, y);
    context.lineTo(wide, y);
    context.fillText(String(n), 2, y - 3);
  }
  context.stroke();
  context.fillText("in", 4, 13);
  context.restore();
}
