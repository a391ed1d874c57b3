// Pointer, wheel, pinch and keys move the window over the cloth; a touch without a move is a touch of the quilt.

export function moveBy(element, cloth, touched) {
  const down = new Map();
  let moved = 0;
  const at = (event) => {
    const box = element.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  };
  element.addEventListener("pointerdown", (event) => {
    element.setPointerCapture(event.pointerId);
    down.set(event.pointerId, at(event));
    if (down.size === 1) moved = 0;
  });
  element.addEventListener("pointermove", (event) => {
    if (!down.has(event.pointerId)) return;
    const [x, y] = at(event);
    const [px, py] = down.get(event.pointerId);
    const others = [...down].filter(([id]) => id !== event.pointerId);
    moved += Math.hypot(x - px, y - py);
    if (others.length === 1) {
      const [ox, oy] = others[0][1];
      cloth.camera.zoom(Math.hypot(x - ox, y - oy) / Math.max(1, Math.hypot(px - ox, py - oy)), (x + ox) / 2, (y + oy) / 2);
      moved += 99;
    } else if (moved > 4) cloth.camera.pan(x - px, y - py);
    down.set(event.pointerId, [x, y]);
    cloth.draw();
  });
  const up = (event) => {
    if (!down.delete(event.pointerId)) return;
    if (event.type === "pointerup" && !down.size && moved <= 4) touched(cloth.camera.toQuilt(...at(event)), event);
  };
  element.addEventListener("pointerup", up);
  element.addEventListener("pointercancel", up);
  element.addEventListener("wheel", (event) => {
    event.preventDefault();
    cloth.camera.zoom(Math.exp(-event.deltaY * 0.0016), ...at(event));
    cloth.draw();
  }, { passive: false });
  element.addEventListener("keydown", (event) => {
    const far = Math.min(...cloth.camera.window) / 8;
    const moves = { ArrowLeft: [far, 0], ArrowRight: [-far, 0], ArrowUp: [0, far], ArrowDown: [0, -far] };
    if (moves[event.key]) cloth.camera.pan(...moves[event.key]);
    else if (event.key === "+" || event.key === "=") cloth.camera.zoom(1.3);
    else if (event.key === "-") cloth.camera.zoom(1 / 1.3);
    else if (event.key === "0") cloth.camera.fit(undefined, 0.9);
    else return;
    event.preventDefault();
    cloth.draw();
  });
}
