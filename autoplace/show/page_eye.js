// The eye of a page: where it stands, what it sees where, and how it turns, shifts and comes nearer.
// Lengths are percent of the character's height; +Y up, +Z where it faces, +X its own left. There
// is no perspective, so that left and right joints cover one another in a view from the side.
"use strict";

// vectors: arrays of three
const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const plus = (a, b, share = 1) => a.map((v, i) => v + share * b[i]);
const cross = (a, b) =>
  [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
const unit = (a) => { const n = Math.hypot(...a) || 1; return a.map((v) => v / n); };
const turned = (a, axis, angle) => {  // Rodrigues' formula
  const c = Math.cos(angle), s = Math.sin(angle), across = cross(axis, a), along = dot(axis, a);
  return a.map((v, i) => v * c + across[i] * s + axis[i] * along * (1 - c));
};

class Eye {
  static CLOSEST = 2.5;
  static FARTHEST = 400;

  // axes: rows right, up, toward the eye; pole: what it is turned about; target: the point in the
  // middle of the picture; span: how much the picture's height shows; width and height in pixels
  constructor(axes, pole, target, span, width, height) {
    Object.assign(this, { axes, pole, target, span, width, height });
  }

  with(change) {
    const { axes, pole, target, span, width, height } = { ...this, ...change };
    return new Eye(axes, pole, target, span, width, height);
  }

  // the eye that sees the box of a view as large as fits
  static framing(view, width, height) {
    const [right, up, toward] = view.axes;
    const middle = [0, 1].map((i) => (view.low[i] + view.high[i]) / 2);
    const size = [0, 1].map((i) => Math.max(view.high[i] - view.low[i], 0.5));
    const across = plus(right.map((v) => v * middle[0]), up, middle[1]);
    const span = 1.08 * Math.max(size[1], size[0] * height / width);
    const pole = Math.abs(up[1]) > 0.5 ? [0, 1, 0] : up;
    return new Eye(view.axes, pole, plus(across, toward, view.depth), span, width, height);
  }

  // pixels per percent of the height
  get scale() { return this.height / this.span; }

  // where a point is on the picture, and how far toward the eye
  seen(at) {
    const offset = plus(at, this.target, -1);
    return {
      x: this.width / 2 + dot(offset, this.axes[0]) * this.scale,
      y: this.height / 2 - dot(offset, this.axes[1]) * this.scale,
      near: dot(offset, this.axes[2]),
    };
  }

  // whether a spot lies far before or behind what is looked at, such as the legs behind a hand
  isBeyond(spot) { return Math.abs(spot.near) > 0.8 * this.span; }

  // turned by angles to the right and upward, the figure with the hand; not over the pole, or the
  // figure would stand on its head
  turn(dx, dy) {
    const [right, , toward] = this.axes, { pole } = this;
    const tilt = Math.asin(Math.min(Math.max(dot(toward, pole), -1), 1));
    const rise = Math.min(Math.max(tilt + dy, -Math.PI / 2), Math.PI / 2) - tilt;
    const [r, , t] = this.axes.map((a) => turned(turned(a, right, -rise), pole, -dx));
    const level = unit(plus(r, t, -dot(r, t)));
    return this.with({ axes: [level, cross(t, level), t] });
  }

  // moved so that the figure goes by so many pixels
  shift(dx, dy) {
    const across = plus(this.target, this.axes[0], -dx / this.scale);
    return this.with({ target: plus(across, this.axes[1], dy / this.scale) });
  }

  // enlarged about a point of the picture
  nearer(factor, x = this.width / 2, y = this.height / 2) {
    const span = Math.min(Math.max(this.span / factor, Eye.CLOSEST), Eye.FARTHEST);
    const change = (1 - span / this.span) / this.scale;
    const across = plus(this.target, this.axes[0], (x - this.width / 2) * change);
    return this.with({ span, target: plus(across, this.axes[1], (this.height / 2 - y) * change) });
  }

  // on the way to another eye, at a share t of it
  toward(goal, t) {
    const between = (a, b) => a.map((v, i) => v * (1 - t) + b[i] * t);
    let ahead = between(this.axes[2], goal.axes[2]);
    if (dot(this.axes[2], goal.axes[2]) < -0.9) {  // from front to back leads around
      ahead = plus(ahead, this.axes[0], Math.sin(Math.PI * t));
    }
    ahead = unit(ahead);
    const right = unit(cross(between(this.axes[1], goal.axes[1]), ahead));
    return goal.with({
      axes: [right, cross(ahead, right), ahead],
      target: between(this.target, goal.target),
      span: this.span * (goal.span / this.span) ** t,
    });
  }
}
