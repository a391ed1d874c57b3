// Where the window lies over the quilt: millimetres to pixels and back.

export class Camera {
  constructor(width, height) {
    this.size = [width, height];
    this.window = [1, 1];
    this.x = width / 2;
    this.y = height / 2;
    this.scale = 1;
    this.fitted = null; // what was fitted into the window, until she moves it
  }

  resize(width, height) {
    this.window = [Math.max(1, width), Math.max(1, height)];
    if (this.fitted) this.fit(...this.fitted);
  }

  fit(box = [0, 0, ...this.size], margin = 0.94) {
    this.fitted = [box, margin];
    const [left, top, right, bottom] = box;
    this.x = (left + right) / 2;
    this.y = (top + bottom) / 2;
    this.scale = margin * Math.min(this.window[0] / Math.max(right - left, 1), this.window[1] / Math.max(bottom - top, 1));
    this.scale = Math.min(this.scale, 40);
  }

  get where() {
    return { x: this.x, y: this.y, scale: this.scale, fitted: this.fitted };
  }

  set where(seen) {
    Object.assign(this, seen);
    if (this.fitted) this.fit(...this.fitted); // the window may be another size by now
  }

  toScreen(x, y) {
    return [(x - this.x) * this.scale + this.window[0] / 2, (y - this.y) * this.scale + this.window[1] / 2];
  }

  toQuilt(px, py) {
    return [(px - this.window[0] / 2) / this.scale + this.x, (py - this.window[1] / 2) / this.scale + this.y];
  }

  pan(dx, dy) {
    this.fitted = null;
    this.x = Math.min(this.size[0], Math.max(0, this.x - dx / this.scale));
    this.y = Math.min(this.size[1], Math.max(0, this.y - dy / this.scale));
  }

  zoom(factor, px = this.window[0] / 2, py = this.window[1] / 2) {
    this.fitted = null;
    const [x, y] = this.toQuilt(px, py);
    this.scale = Math.min(40, Math.max(0.02, this.scale * factor));
    const [nx, ny] = this.toQuilt(px, py);
    this.x += x - nx;
    this.y += y - ny;
  }
}
