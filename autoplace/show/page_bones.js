// Paints the skeleton of a page: leaves for bones, beads for joints, in the inks of the pictures.
// A bead is filled by how sure its joint is, and has a ring in the colour of its side.
"use strict";

class BonePainter {
  constructor(canvas, joints, inks) {
    Object.assign(this, { canvas, joints, inks, pen: canvas.getContext("2d") });
  }

  // `shown`: axes ('', 'all' or a chain), spread and names; `marked`: the chosen and the pointed
  // joint, by number, or -1
  paint(eye, shown, marked) {
    this.eye = eye;
    const { pen, joints } = this, fine = this.canvas.width / eye.width;
    pen.setTransform(fine, 0, 0, fine, 0, 0);
    pen.clearRect(0, 0, eye.width, eye.height);
    const spots = joints.map((joint) => eye.seen(joint.at));
    const order = joints.map((_, i) => i).sort((a, b) => spots[a].near - spots[b].near);
    // seen from a side, the other side's limbs are pale
    const sideways = eye.axes[2][0];
    const strength = (index) => {
      if (eye.isBeyond(spots[index])) return 0.16;
      const other = joints[index].side === (sideways > 0 ? "right" : "left");
      return Math.abs(sideways) > 0.8 && other ? 0.45 : 1;
    };
    const each = (what) => order.forEach((index) => {
      pen.globalAlpha = strength(index);
      what(joints[index], spots[index], index);
      pen.globalAlpha = 1;
    });
    if (shown.spread) each((joint, at) => this.spread(joint, at));
    each((joint, at) => { if (joint.parent >= 0) this.bone(joint, spots[joint.parent], at); });
    each((joint, at, index) => this.bead(joint, at, index, marked));
    each((joint, at) => {
      if (shown.axes === "all" || shown.axes === joint.chain) this.axes(joint, at);
    });
    if (shown.names) this.names(order, spots);
  }

  radius(joint) {
    const small = joint.chain.endsWith("_hand") && !joint.name.endsWith("_wrist");
    const size = this.eye.scale * (small ? 0.26 : 0.62);
    const radius = Math.min(Math.max(size, small ? 2 : 3.5), 8);
    return joint.kind === "tip" ? radius * 0.75 : joint.kind === "eye" ? radius * 0.8 : radius;
  }

  disc(at, radius, fill, line = "", breadth = 1) {
    const { pen } = this;
    pen.beginPath();
    pen.arc(at.x, at.y, radius, 0, 2 * Math.PI);
    if (fill) { pen.fillStyle = fill; pen.fill(); }
    if (line) { pen.strokeStyle = line; pen.lineWidth = breadth; pen.stroke(); }
  }

  stroke(from, to, colour, breadth) {
    const { pen } = this;
    pen.beginPath();
    pen.moveTo(from.x, from.y);
    pen.lineTo(to.x, to.y);
    pen.strokeStyle = colour;
    pen.lineWidth = breadth;
    pen.stroke();
  }

  // letters on a pale ground of their own
  letters(text, x, y, colour) {
    const { pen } = this;
    pen.strokeStyle = this.inks.card;
    pen.lineWidth = 3.5;
    pen.strokeText(text, x, y);
    pen.fillStyle = colour;
    pen.fillText(text, x, y);
  }

  spread(joint, at) {
    const { pen } = this, radius = Math.max(joint.spread * this.eye.scale, 1);
    const full = pen.globalAlpha;
    pen.globalAlpha = 0.35 * full;
    this.disc(at, radius, joint.sure);
    pen.globalAlpha = 0.7 * full;
    this.disc(at, radius, "", joint.ink, 1);
  }

  bone(joint, from, to) {
    if (joint.kind === "eye") {  // the eyes do not hang on a bone of flesh
      this.stroke(from, to, joint.ink, 1.2);
      return;
    }
    const dx = to.x - from.x, dy = to.y - from.y, length = Math.hypot(dx, dy);
    if (length < 1) return;
    const { pen } = this, palm = this.joints[joint.parent].name.endsWith("_wrist");
    const half = Math.min((palm ? 0.7 : 1) * this.radius(joint), 0.16 * length + 0.8);
    // a curve reaches but part of the way to the point that draws it
    const nx = -dy / length * half * 1.6, ny = dx / length * half * 1.6;
    pen.beginPath();
    pen.moveTo(from.x, from.y);
    pen.quadraticCurveTo(from.x + dx * 0.35 + nx, from.y + dy * 0.35 + ny, to.x, to.y);
    pen.quadraticCurveTo(from.x + dx * 0.35 - nx, from.y + dy * 0.35 - ny, from.x, from.y);
    pen.fillStyle = joint.ink;
    pen.fill();
    pen.strokeStyle = this.inks.card;
    pen.lineWidth = 1;
    pen.stroke();
  }

  bead(joint, at, index, marked) {
    const { pen, inks } = this, radius = this.radius(joint), ball = joint.ball * this.eye.scale;
    if (ball > 4) this.disc(at, ball, "", inks.eye, 1.2);
    if (joint.level) {
      this.disc(at, radius * 1.6 + 4, "", inks.card, 5);
      this.disc(at, radius * 1.6 + 4, "", inks.levels[joint.level], 2.6);
    }
    if (index === marked.chosen) {
      this.disc(at, radius + 6, "", inks.card, 4.5);
      this.disc(at, radius + 6, "", inks.text, 2.2);
    }
    if (joint.kind === "root") {
      const r = radius * 1.5;
      pen.beginPath();
      [[0, r], [r, 0], [0, -r], [-r, 0]].forEach(([x, y]) => pen.lineTo(at.x + x, at.y + y));
      pen.closePath();
      pen.fillStyle = joint.sure;
      pen.fill();
      pen.strokeStyle = inks.text;
      pen.lineWidth = 1.4;
      pen.stroke();
    } else {
      const pointed = index === marked.pointed;
      this.disc(at, radius + 1.6, inks.card);
      this.disc(at, radius, joint.sure, pointed ? inks.text : joint.ink,
        pointed ? 2.6 : Math.max(1, radius * 0.25));
    }
    if (joint.locked) {
      const y = at.y + radius + 5;
      this.stroke({ x: at.x - 7, y }, { x: at.x + 7, y }, inks.text, 3);
    }
  }

  axes(joint, at) {
    if (joint.axis * this.eye.scale < 6) return;  // a thicket that tells nothing
    const { pen, inks } = this;
    pen.font = "600 12px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    joint.axes.forEach((axis, i) => {
      const end = this.eye.seen(plus(joint.at, axis, joint.axis));
      this.stroke(at, end, inks.card, 4);
      this.stroke(at, end, inks.axes[i], 2);
      const length = Math.hypot(end.x - at.x, end.y - at.y), on = 1 + 8 / length;
      if (length < 16) return;
      const x = at.x + (end.x - at.x) * on, y = at.y + (end.y - at.y) * on;
      this.letters("XYZ"[i], x, y, inks.axes[i]);
    });
  }

  // beside the joints, the nearer first; a name without room is left out
  names(order, spots) {
    const { pen } = this, taken = [];
    pen.font = "12px system-ui, sans-serif";
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    for (const index of [...order].reverse()) {
      const at = spots[index], text = this.joints[index].name;
      if (this.eye.isBeyond(at)) continue;
      const left = at.x + this.radius(this.joints[index]) + 5;
      const box = [left - 2, at.y - 8, left + pen.measureText(text).width + 2, at.y + 8];
      if (taken.some((b) => box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1])) {
        continue;
      }
      taken.push(box);
      this.letters(text, left, at.y, this.inks.text);
    }
  }
}
