// Turns the figure, draws the skeleton over the mesh, and ties both to the words beside them.
// Lengths are percent of the character's height; +Y up, +Z where it faces, +X its own left.
"use strict";
(() => {
  const byId = (id) => document.getElementById(id);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const { joints, views, surfaces, cube, inks } = JSON.parse(byId("scene").textContent);
  const stage = byId("stage"), canvas = byId("bones"), meshBox = byId("mesh"), tip = byId("tip");
  const pen = canvas.getContext("2d");
  const still = matchMedia("(prefers-reduced-motion: reduce)");

  const CLOSEST = 2.5, FARTHEST = 400;  // height of the picture, percent of the figure's
  const shown = { spread: false, names: false, axes: "", look: "translucent" };
  let camera, width = 1, height = 1, drawn = false;
  let chosen = -1, pointed = -1;

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

  // The camera: rows right, up, toward the eye; the axis that it turns about; the point in the
  // middle of the picture; and how much of the figure the picture's height shows.
  const scale = () => height / camera.span;
  const framed = (view) => {
    const [right, up, toward] = view.axes;
    const middle = [0, 1].map((i) => (view.low[i] + view.high[i]) / 2);
    const size = [0, 1].map((i) => Math.max(view.high[i] - view.low[i], 0.5));
    let target = right.map((v) => v * middle[0]);
    target = plus(plus(target, up, middle[1]), toward, view.depth);
    const span = 1.08 * Math.max(size[1], size[0] * height / width);
    return { axes: view.axes, pole: Math.abs(up[1]) > 0.5 ? [0, 1, 0] : up, target, span };
  };
  const seen = (at) => {
    const offset = plus(at, camera.target, -1), k = scale();
    return {
      x: width / 2 + dot(offset, camera.axes[0]) * k,
      y: height / 2 - dot(offset, camera.axes[1]) * k,
      near: dot(offset, camera.axes[2]),
    };
  };

  // what lies far before or behind what is looked at, such as the legs behind a hand
  const isBeyond = (spot) => Math.abs(spot.near) > 0.8 * camera.span;

  // -- the mesh --------------------------------------------------------------------------------
  const aspect = () => {
    const size = 4 * cube.half / camera.span;
    return { x: size, y: size, z: size };
  };
  const eye = () => {
    const size = 4 * cube.half / camera.span, share = size / (2 * cube.half);
    const centre = camera.target.map((v, i) => (v - cube.centre[i]) * share);
    const named = (a) => ({ x: a[0], y: a[1], z: a[2] });
    return {
      center: named(centre), eye: named(plus(centre, camera.axes[2], 2 * size + 1)),
      up: named(camera.axes[1]), projection: { type: "orthographic" },
    };
  };
  // Translucent is the whole picture of the mesh, not its surfaces: walls behind walls would lie
  // over one another in no order. Only what is worn lets the body be seen.
  const opacity = (surface) => (shown.look === "solid" || !surface.worn ? 1 : 0.4);
  const drawMesh = () => {
    if (!document.createElement("canvas").getContext("webgl")) {
      byId("wait").textContent =
        "This browser draws no surfaces (WebGL is off): the skeleton is shown without the mesh.";
      return Promise.resolve();
    }
    const [low, high] = [-1, 1].map((way) => cube.centre.map((v) => v + way * cube.half));
    const axis = (i) => ({ visible: false, range: [low[i], high[i]], autorange: false });
    const traces = surfaces.map((surface) => ({
      type: "mesh3d", ...surface.trace, color: surface.colour, opacity: opacity(surface),
      hoverinfo: "skip", flatshading: false,
      lighting: { ambient: 0.45, diffuse: 0.6, specular: 0, vertexnormalsepsilon: 1e-12 },
      // the lamp goes with the eye: it stands in the space of the picture, whose depth of two
      // is a thousand times its height; up, to the left, and behind the eye
      lightposition: { x: -120, y: 190, z: -1.9 },
    }));
    const layout = {
      width, height, margin: { l: 0, r: 0, t: 0, b: 0 }, showlegend: false, hovermode: false,
      paper_bgcolor: inks.card,
      scene: {
        bgcolor: inks.card, dragmode: "orbit", hovermode: false, camera: eye(),
        aspectmode: "manual", aspectratio: aspect(),
        xaxis: axis(0), yaxis: axis(1), zaxis: axis(2),
      },
    };
    const config = { displayModeBar: false, showTips: false, doubleClick: false };
    return Plotly.newPlot(meshBox, traces, layout, config).then(() => {
      drawn = true;
      quicken();
      byId("wait").hidden = true;
    }).catch(() => {
      byId("wait").textContent = "The mesh could not be drawn; the skeleton is shown without it.";
    });
  };
  // the library eases its camera, by which the mesh would trail behind the skeleton
  const quicken = () => {
    const own = meshBox._fullLayout?.scene?._scene?.glplot?.camera;
    if (own && "delay" in own) own.delay = 0;
  };
  const restyle = (change, which) => {
    if (drawn) Plotly.restyle(meshBox, change, which).then(() => { quicken(); refresh(); });
  };

  // -- the skeleton ----------------------------------------------------------------------------
  const beadOf = (joint) => {
    const small = joint.chain.endsWith("_hand") && !joint.name.endsWith("_wrist");
    const radius = Math.min(Math.max(scale() * (small ? 0.26 : 0.62), small ? 2 : 3.5), 8);
    return joint.kind === "tip" ? radius * 0.75 : joint.kind === "eye" ? radius * 0.8 : radius;
  };
  const disc = (at, radius, fill, line = "", breadth = 1) => {
    pen.beginPath();
    pen.arc(at.x, at.y, radius, 0, 2 * Math.PI);
    if (fill) { pen.fillStyle = fill; pen.fill(); }
    if (line) { pen.strokeStyle = line; pen.lineWidth = breadth; pen.stroke(); }
  };
  const stroke = (from, to, colour, breadth) => {
    pen.beginPath();
    pen.moveTo(from.x, from.y);
    pen.lineTo(to.x, to.y);
    pen.strokeStyle = colour;
    pen.lineWidth = breadth;
    pen.stroke();
  };
  const leaf = (from, to, half, colour) => {
    const dx = to.x - from.x, dy = to.y - from.y, length = Math.hypot(dx, dy);
    if (length < 1) return;
    const breadth = Math.min(half, 0.16 * length + 0.8) * 1.6;  // a curve reaches part of it only
    const nx = -dy / length * breadth, ny = dx / length * breadth;
    pen.beginPath();
    pen.moveTo(from.x, from.y);
    pen.quadraticCurveTo(from.x + dx * 0.35 + nx, from.y + dy * 0.35 + ny, to.x, to.y);
    pen.quadraticCurveTo(from.x + dx * 0.35 - nx, from.y + dy * 0.35 - ny, from.x, from.y);
    pen.fillStyle = colour;
    pen.fill();
    pen.strokeStyle = inks.card;
    pen.lineWidth = 1;
    pen.stroke();
  };
  const drawBone = (joint, spots, index) => {
    const parent = joints[joint.parent], from = spots[joint.parent], to = spots[index];
    if (joint.kind === "eye") return stroke(from, to, joint.ink, 1.2);
    const palm = parent.name.endsWith("_wrist");
    leaf(from, to, (palm ? 0.7 : 1) * beadOf(joint), joint.ink);
  };
  const drawBead = (joint, at, index) => {
    const radius = beadOf(joint);
    if (joint.ball * scale() > 4) disc(at, joint.ball * scale(), "", inks.eye, 1.2);
    if (joint.level) {
      disc(at, radius * 1.6 + 4, "", inks.card, 5);
      disc(at, radius * 1.6 + 4, "", inks.levels[joint.level], 2.6);
    }
    if (index === chosen) disc(at, radius + 6, "", inks.text, 2.2);
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
      disc(at, radius + 1.6, inks.card);
      disc(at, radius, joint.sure, index === pointed ? inks.text : joint.ink,
        index === pointed ? 2.6 : Math.max(1, radius * 0.25));
    }
    if (joint.locked) {
      const y = at.y + radius + 5;
      stroke({ x: at.x - 7, y }, { x: at.x + 7, y }, inks.text, 3);
    }
  };
  const drawAxes = (joint, at) => {
    if (joint.axis * scale() < 6) return;  // a thicket that tells nothing
    joint.axes.forEach((axis, i) => {
      const end = seen(plus(joint.at, axis, joint.axis));
      stroke(at, end, inks.card, 4);
      stroke(at, end, inks.axes[i], 2);
      const length = Math.hypot(end.x - at.x, end.y - at.y);
      if (length < 16) return;
      pen.font = "600 12px system-ui, sans-serif";
      pen.textAlign = "center";
      pen.textBaseline = "middle";
      const on = 1 + 8 / length, x = at.x + (end.x - at.x) * on, y = at.y + (end.y - at.y) * on;
      pen.strokeStyle = inks.card;
      pen.lineWidth = 3;
      pen.strokeText("XYZ"[i], x, y);
      pen.fillStyle = inks.axes[i];
      pen.fillText("XYZ"[i], x, y);
    });
  };
  const drawNames = (order, spots) => {
    const taken = [];
    pen.font = "12px system-ui, sans-serif";
    pen.textAlign = "left";
    pen.textBaseline = "middle";
    for (const index of [...order].reverse()) {
      const at = spots[index], text = joints[index].name;
      if (isBeyond(at)) continue;
      const left = at.x + beadOf(joints[index]) + 5, long = pen.measureText(text).width;
      const box = [left - 2, at.y - 8, left + long + 2, at.y + 8];
      if (taken.some((b) => box[0] < b[2] && box[2] > b[0] && box[1] < b[3] && box[3] > b[1])) {
        continue;
      }
      taken.push(box);
      pen.strokeStyle = inks.card;
      pen.lineWidth = 3.5;
      pen.strokeText(text, left, at.y);
      pen.fillStyle = inks.text;
      pen.fillText(text, left, at.y);
    }
  };
  const wantsAxes = (joint, index) => shown.axes === "all" || shown.axes === joint.chain;
  const drawSkeleton = () => {
    const fine = canvas.width / width;
    pen.setTransform(fine, 0, 0, fine, 0, 0);
    pen.clearRect(0, 0, width, height);
    const spots = joints.map((joint) => seen(joint.at));
    const order = joints.map((_, i) => i).sort((a, b) => spots[a].near - spots[b].near);
    // seen from a side, the other side's limbs are pale
    const sideways = camera.axes[2][0];
    const strength = (index) => {
      if (isBeyond(spots[index])) return 0.16;
      const other = joints[index].side === (sideways > 0 ? "right" : "left");
      return Math.abs(sideways) > 0.8 && other ? 0.45 : 1;
    };
    const each = (what) => order.forEach((index) => {
      pen.globalAlpha = strength(index);
      what(joints[index], spots[index], index);
      pen.globalAlpha = 1;
    });
    if (shown.spread) {
      each((joint, at) => {
        pen.globalAlpha *= 0.35;
        disc(at, Math.max(joint.spread * scale(), 1), joint.sure);
        pen.globalAlpha /= 0.5;
        disc(at, Math.max(joint.spread * scale(), 1), "", joint.ink, 1);
      });
    }
    each((joint, at, index) => { if (joint.parent >= 0) drawBone(joint, spots, index); });
    each(drawBead);
    each((joint, at, index) => { if (wantsAxes(joint, index)) drawAxes(joint, at); });
    if (shown.names) drawNames(order, spots);
  };

  // -- frames ----------------------------------------------------------------------------------
  let waiting = false;
  const paint = () => {
    waiting = false;
    if (drawn) {
      meshBox.layout.scene.aspectratio = aspect();
      Plotly.relayout(meshBox, { "scene.camera": eye() });
    }
    drawSkeleton();
    placeTip();
  };
  const refresh = () => {
    if (!waiting) requestAnimationFrame(paint);
    waiting = true;
  };
  let flight = 0;
  const flyTo = (goal) => {
    cancelAnimationFrame(flight);
    pointAt(-1);
    const start = camera, begun = performance.now(), time = still.matches ? 1 : 450;
    document.body.dataset.moving = "yes";
    const opposite = dot(start.axes[2], goal.axes[2]) < -0.9;
    const step = (when) => {
      const part = Math.min(Math.max((when - begun) / time, 0), 1), t = part * part * (3 - 2 * part);
      const between = (a, b) => a.map((v, i) => v * (1 - t) + b[i] * t);
      let toward = between(start.axes[2], goal.axes[2]);
      if (opposite) toward = plus(toward, start.axes[0], Math.sin(Math.PI * t));
      toward = unit(toward);
      const right = unit(cross(between(start.axes[1], goal.axes[1]), toward));
      camera = part === 1 ? goal : {
        axes: [right, cross(toward, right), toward], pole: goal.pole,
        target: between(start.target, goal.target),
        span: Math.exp(between([Math.log(start.span)], [Math.log(goal.span)])[0]),
      };
      refresh();
      if (part < 1) flight = requestAnimationFrame(step);
      else document.body.dataset.moving = "";
    };
    flight = requestAnimationFrame(step);
  };
  const stopFlight = () => { cancelAnimationFrame(flight); document.body.dataset.moving = ""; };
  const press = (key) => all("[data-view]").forEach((button) =>
    button.setAttribute("aria-pressed", String(button.dataset.view === key)));
  const viewOf = (key) => views.find((view) => view.key === key) || views[0];

  // -- turning, shifting, coming nearer ----------------------------------------------------------
  const turn = (dx, dy) => {
    const [right, , toward] = camera.axes, { pole } = camera;
    // not over the pole: the figure would stand on its head
    const tilt = Math.asin(Math.min(Math.max(dot(toward, pole), -1), 1));
    const most = Math.PI / 2, rise = Math.min(Math.max(tilt + dy, -most), most) - tilt;
    let axes = camera.axes.map((a) => turned(a, right, -rise));
    axes = axes.map((a) => turned(a, pole, -dx));
    const [r, , t] = axes, level = unit(plus(r, t, -dot(r, t)));
    camera = { ...camera, axes: [level, cross(t, level), t] };
    press("");
    refresh();
  };
  const shift = (dx, dy) => {
    const k = scale();
    const target = plus(plus(camera.target, camera.axes[0], -dx / k), camera.axes[1], dy / k);
    camera = { ...camera, target };
    press("");
    refresh();
  };
  const nearer = (factor, x = width / 2, y = height / 2) => {
    const span = Math.min(Math.max(camera.span / factor, CLOSEST), FARTHEST);
    const change = (1 / scale()) * (1 - span / camera.span);
    let target = plus(camera.target, camera.axes[0], (x - width / 2) * change);
    target = plus(target, camera.axes[1], -(y - height / 2) * change);
    camera = { ...camera, span, target };
    press("");
    refresh();
  };

  const fingers = new Map();
  let travelled = 0;
  const place = (event) => {
    const box = canvas.getBoundingClientRect();
    return { x: event.clientX - box.left, y: event.clientY - box.top };
  };
  const pick = (at, reach) => {
    const near = joints.map((joint, index) => {
      const spot = seen(joint.at);
      return { index, spot, gap: Math.hypot(spot.x - at.x, spot.y - at.y) };
    }).filter(({ spot, gap }) => gap < reach && !isBeyond(spot));
    // of those that cover one another, such as both knees from the side, the nearer to the eye
    const order = ({ gap }) => Math.round(gap / 4);
    near.sort((a, b) => order(a) - order(b) || b.spot.near - a.spot.near);
    return near.length ? near[0].index : -1;
  };
  canvas.addEventListener("pointerdown", (event) => {
    stopFlight();
    try { canvas.setPointerCapture(event.pointerId); } catch { /* the pointer is gone already */ }
    fingers.set(event.pointerId, place(event));
    if (fingers.size === 1) travelled = 0;
  });
  canvas.addEventListener("pointermove", (event) => {
    const at = place(event), before = fingers.get(event.pointerId);
    if (!before) {
      if (event.pointerType === "mouse") pointAt(pick(at, 14));
      return;
    }
    const dx = at.x - before.x, dy = at.y - before.y;
    if (fingers.size === 1) {
      travelled += Math.hypot(dx, dy);
      if (travelled > 4) {
        if (event.shiftKey || event.buttons & 6) shift(dx, dy);
        else turn(dx * 0.008, dy * 0.008);
      }
    } else {
      travelled = Infinity;
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      const gap = (a) => Math.max(Math.hypot(a.x - other.x, a.y - other.y), 8);
      nearer(gap(at) / gap(before), (at.x + other.x) / 2, (at.y + other.y) / 2);
      shift(dx / 2, dy / 2);
    }
    fingers.set(event.pointerId, at);
  });
  canvas.addEventListener("pointerup", (event) => {
    const known = fingers.delete(event.pointerId);
    if (!known || travelled > 4 || event.button > 0) return;
    choose(pick(place(event), event.pointerType === "mouse" ? 14 : 28));
  });
  canvas.addEventListener("pointercancel", (event) => fingers.delete(event.pointerId));
  canvas.addEventListener("pointerleave", () => { if (!fingers.size) pointAt(-1); });
  canvas.addEventListener("contextmenu", (event) => event.preventDefault());
  canvas.addEventListener("wheel", (event) => {
    event.preventDefault();
    stopFlight();
    const at = place(event), lines = event.deltaMode === 1 ? 30 : 1;
    nearer(Math.exp(-Math.max(Math.min(event.deltaY * lines, 200), -200) * 0.0016), at.x, at.y);
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const moves = {
      ArrowLeft: () => turn(-0.12, 0), ArrowRight: () => turn(0.12, 0),
      ArrowUp: () => turn(0, -0.12), ArrowDown: () => turn(0, 0.12),
      "+": () => nearer(1.2), "=": () => nearer(1.2), "-": () => nearer(1 / 1.2),
      Escape: () => choose(-1),
    };
    if (!moves[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    stopFlight();
    moves[event.key]();
  });

  // -- words -------------------------------------------------------------------------------------
  const wordsOf = (index) => byId(`joint-${index}`).querySelector("p").textContent;
  const filled = (box, index, more) => {
    const title = document.createElement("b"), text = document.createElement("div");
    title.textContent = joints[index].name;
    text.textContent = wordsOf(index);
    box.replaceChildren(title, text);
    for (const found of all(`.findings [data-joint="${index}"]`)) {
      const line = document.createElement("div");
      line.append(...["b", "span"].map((part) => found.querySelector(part).cloneNode(true)));
      box.append(line);
    }
    if (more) {
      const at = document.createElement("div");
      at.className = "at";
      at.textContent = byId(`joint-${index}`).querySelector(".at").textContent;
      box.append(at);
    }
  };
  const placeTip = () => {
    if (pointed < 0) { tip.hidden = true; return; }
    tip.hidden = false;
    const at = seen(joints[pointed].at), wide = tip.offsetWidth, high = tip.offsetHeight;
    // on the outer side, where it hides least of the figure
    const left = at.x - 18 - wide, right = at.x + 18, outer = at.x < width / 2;
    const x = (outer && left > 6) || right + wide > width - 6 ? left : right;
    const y = Math.min(Math.max(at.y - high / 2, 6), height - high - 6);
    tip.style.transform = `translate(${Math.max(x, 6)}px, ${y}px)`;
  };
  const pointAt = (index) => {
    if (index === pointed) return;
    pointed = index;
    canvas.classList.toggle("joint", index >= 0);
    if (index >= 0) filled(tip, index, false);
    refresh();
  };
  const choose = (index) => {
    chosen = index;
    const card = byId("chosen");
    card.hidden = index < 0;
    all("li.chosen").forEach((row) => row.classList.remove("chosen"));
    if (index >= 0) {
      filled(card, index, true);
      byId(`joint-${index}`).classList.add("chosen");
    }
    refresh();
  };
  const show = (index) => {
    const joint = joints[index], view = viewOf(joint.view);
    choose(index);
    press("");
    // as near as the view it is best seen in, but the whole figure only to a third
    const goal = framed(view), whole = ["front", "side"].includes(view.key);
    flyTo({ ...goal, target: joint.at, span: goal.span * (whole ? 0.34 : 0.8) });
    // on a small screen the picture stands above the words
    if (stage.getBoundingClientRect().top < 0) {
      stage.scrollIntoView({ behavior: still.matches ? "auto" : "smooth", block: "start" });
    }
  };
  all("[data-joint]").forEach((button) =>
    button.addEventListener("click", () => show(Number(button.dataset.joint))));
  all("[data-view]").forEach((button) => button.addEventListener("click", () => {
    flyTo(framed(viewOf(button.dataset.view)));
    press(button.dataset.view);
  }));
  all("[data-part]").forEach((box) => box.addEventListener("change", () =>
    restyle({ visible: box.checked && shown.look !== "hidden" }, [Number(box.dataset.part)])));
  all("[name=look]").forEach((radio) => radio.addEventListener("change", () => {
    shown.look = radio.value;
    meshBox.className = shown.look;
    restyle({
      opacity: surfaces.map(opacity),
      visible: all("[data-part]").map((box) => box.checked && shown.look !== "hidden"),
    });
  }));
  ["spread", "names"].forEach((key) => byId(key).addEventListener("change", (event) => {
    shown[key] = event.target.checked;
    refresh();
  }));
  byId("axes").addEventListener("change", (event) => {
    shown.axes = event.target.value;
    refresh();
  });

  // -- beginning -----------------------------------------------------------------------------------
  const measure = () => {
    width = Math.max(stage.clientWidth, 1);
    height = Math.max(stage.clientHeight, 1);
    const fine = Math.min(devicePixelRatio || 1, 3);
    canvas.width = Math.round(width * fine);
    canvas.height = Math.round(height * fine);
  };
  document.body.dataset.moving = "";
  measure();
  // browsers keep switches as they were when a page is read again
  all("input[data-part]").forEach((box) => { box.checked = true; });
  all("input[name=look]").forEach((radio) => { radio.checked = radio.value === "translucent"; });
  ["spread", "names"].forEach((key) => { byId(key).checked = false; });
  byId("axes").value = "";
  meshBox.className = shown.look;
  camera = framed(views[0]);
  press(views[0].key);
  drawSkeleton();
  new ResizeObserver(() => {
    measure();
    const pressed = all("[data-view][aria-pressed=true]")[0];
    if (pressed) camera = framed(viewOf(pressed.dataset.view));
    if (drawn) Plotly.relayout(meshBox, { width, height }).then(refresh);
    else refresh();
  }).observe(stage);
  // the page is seen before the long work begins
  requestAnimationFrame(() => setTimeout(() => drawMesh().then(() => {
    paint();
    document.body.dataset.state = "ready";
  }), 0));
})();
