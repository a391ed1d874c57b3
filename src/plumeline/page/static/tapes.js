// Lengths in her units: said in passing, and tape measures along the upper and the left edge of the window.

const TAPES = { in: [25.4, [1, 2, 6, 12, 24, 48], "in"], cm: [10, [1, 2, 5, 10, 20, 50, 100], "cm"], mm: [10, [1, 2, 5, 10, 20, 50, 100], "cm"] };

// To a tenth of an inch, or a millimetre.
export function shortly(mm, units) {
  return units === "in" ? `${(mm / 25.4).toFixed(1)} in` : units === "cm" ? `${(mm / 10).toFixed(1)} cm` : `${Math.round(mm)} mm`;
}

export function drawTapes(context, ratio, camera, units) {
  const [mm, steps, name] = TAPES[units];
  const unit = mm * camera.scale;
  const every = steps.find((n) => n * unit >= 46) || steps.at(-1);
  const wide = units === "in" ? 20 : 27; // room for three figures
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
  const marks = (size) => Array.from({ length: Math.floor(size / mm / every) + 1 }, (_, k) => k * every);
  context.beginPath();
  for (const n of marks(camera.size[0])) {
    const x = x0 + n * unit;
    if (x < wide + 4) continue;
    context.moveTo(x, wide - 6);
    context.lineTo(x, wide);
    context.fillText(String(n), x + 3, 13);
  }
  for (const n of marks(camera.size[1])) {
    const y = y0 + n * unit;
    if (y < wide + 12) continue;
    context.moveTo(wide - 6, y);
    context.lineTo(wide, y);
    context.fillText(String(n), 2, y - 3);
  }
  context.stroke();
  context.fillText(name, 3, 13);
  context.restore();
}
