// Ties a page together: the mesh, the skeleton over it, the pointer, and the words beside.
// Follows page_eye.js and page_bones.js; lengths are percent of the character's height.
"use strict";
(() => {
  const byId = (id) => document.getElementById(id);
  const all = (selector) => [...document.querySelectorAll(selector)];
  const { joints, views, surfaces, cube, inks } = JSON.parse(byId("scene").textContent);
  const stage = byId("stage"), canvas = byId("bones"), meshBox = byId("mesh"), tip = byId("tip");
  const painter = new BonePainter(canvas, joints, inks);
  const still = matchMedia("(prefers-reduced-motion: reduce)");

  const shown = { spread: false, names: false, axes: "", look: "translucent" };
  const marked = { chosen: -1, pointed: -1 };
  let eye, width = 1, height = 1, drawn = false;

  // -- the mesh --------------------------------------------------------------------------------
  // the library sees the cube as so large, without perspective, that 2 is the picture's height
  const aspect = () => {
    const size = 4 * cube.half / eye.span;
    return { x: size, y: size, z: size };
  };
  const camera = () => {
    const size = 4 * cube.half / eye.span, share = size / (2 * cube.half);
    const centre = eye.target.map((v, i) => (v - cube.centre[i]) * share);
    const named = (a) => ({ x: a[0], y: a[1], z: a[2] });
    return {
      center: named(centre), eye: named(plus(centre, eye.axes[2], 2 * size + 1)),
      up: named(eye.axes[1]), projection: { type: "orthographic" },
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
      // the lamp goes with the eye: it stands in the space of the picture, whose half height is 1,
      // and whose depth of 2 is as long as 500 heights; up, to the left, and behind the eye, so far
      // that the library's mixing of frames for near lamps does not show
      lightposition: { x: -36000, y: 57000, z: -271 },
    }));
    // the library makes the data as deep as wide and high, and lights it so; two corners of the
    // cube, which are not seen, keep it as it is
    const corners = {
      type: "scatter3d", mode: "markers", opacity: 0, marker: { size: 1 }, hoverinfo: "skip",
      x: [low[0], high[0]], y: [low[1], high[1]], z: [low[2], high[2]],
    };
    const layout = {
      width, height, margin: { l: 0, r: 0, t: 0, b: 0 }, showlegend: false, hovermode: false,
      paper_bgcolor: inks.card,
      scene: {
        bgcolor: inks.card, dragmode: "orbit", hovermode: false, camera: camera(),
        aspectmode: "manual", aspectratio: aspect(),
        xaxis: axis(0), yaxis: axis(1), zaxis: axis(2),
      },
    };
    const config = { displayModeBar: false, showTips: false, doubleClick: false };
    return Plotly.newPlot(meshBox, [...traces, corners], layout, config).then(() => {
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
  const restyle = (change, which = surfaces.map((_, number) => number)) => {
    if (drawn) Plotly.restyle(meshBox, change, which).then(() => { quicken(); refresh(); });
  };

  // -- frames ----------------------------------------------------------------------------------
  let waiting = false;
  const paint = () => {
    waiting = false;
    if (drawn) {
      meshBox.layout.scene.aspectratio = aspect();
      Plotly.relayout(meshBox, { "scene.camera": camera() });
    }
    painter.paint(eye, shown, marked);
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
    const start = eye, begun = performance.now(), time = still.matches ? 1 : 450;
    document.body.dataset.moving = "yes";
    const step = (when) => {
      const part = Math.min(Math.max((when - begun) / time, 0), 1);
      const next = part === 1 ? goal : start.toward(goal, part * part * (3 - 2 * part));
      eye = next.with({ width, height });  // the window may have changed meanwhile
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

  const framed = (view) => Eye.framing(view, width, height);

  // -- the pointer and the keys --------------------------------------------------------------------
  const move = (next) => {
    eye = next;
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
      const spot = eye.seen(joint.at);
      return { index, spot, gap: Math.hypot(spot.x - at.x, spot.y - at.y) };
    }).filter(({ spot, gap }) => gap < reach && !eye.isBeyond(spot));
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
        if (event.shiftKey || event.buttons & 6) move(eye.shift(dx, dy));
        else move(eye.turn(dx * 0.008, dy * 0.008));
      }
    } else {
      travelled = Infinity;
      const other = [...fingers].find(([id]) => id !== event.pointerId)[1];
      const gap = (a) => Math.max(Math.hypot(a.x - other.x, a.y - other.y), 8);
      const closer = eye.nearer(gap(at) / gap(before), (at.x + other.x) / 2, (at.y + other.y) / 2);
      move(closer.shift(dx / 2, dy / 2));
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
    const step = Math.max(Math.min(event.deltaY * lines, 200), -200);
    move(eye.nearer(Math.exp(-step * 0.0016), at.x, at.y));
  }, { passive: false });
  canvas.addEventListener("keydown", (event) => {
    const moves = {
      ArrowLeft: () => move(eye.turn(-0.12, 0)), ArrowRight: () => move(eye.turn(0.12, 0)),
      ArrowUp: () => move(eye.turn(0, -0.12)), ArrowDown: () => move(eye.turn(0, 0.12)),
      "+": () => move(eye.nearer(1.2)), "=": () => move(eye.nearer(1.2)),
      "-": () => move(eye.nearer(1 / 1.2)),
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
    if (marked.pointed < 0) { tip.hidden = true; return; }
    tip.hidden = false;
    const at = eye.seen(joints[marked.pointed].at), wide = tip.offsetWidth, high = tip.offsetHeight;
    // on the outer side, where it hides least of the figure
    const left = at.x - 18 - wide, right = at.x + 18, outer = at.x < width / 2;
    const x = (outer && left > 6) || right + wide > width - 6 ? left : right;
    const y = Math.min(Math.max(at.y - high / 2, 6), height - high - 6);
    tip.style.transform = `translate(${Math.max(x, 6)}px, ${y}px)`;
  };
  const pointAt = (index) => {
    if (index === marked.pointed) return;
    marked.pointed = index;
    canvas.classList.toggle("joint", index >= 0);
    if (index >= 0) filled(tip, index, false);
    refresh();
  };
  const choose = (index) => {
    marked.chosen = index;
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
    flyTo(goal.with({ target: joint.at, span: goal.span * (whole ? 0.34 : 0.8) }));
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
    stage.dataset.look = shown.look;
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
  stage.dataset.look = shown.look;
  eye = framed(views[0]);
  press(views[0].key);
  painter.paint(eye, shown, marked);
  new ResizeObserver(() => {
    measure();
    const pressed = all("[data-view][aria-pressed=true]")[0];
    eye = pressed ? framed(viewOf(pressed.dataset.view)) : eye.with({ width, height });
    if (drawn) Plotly.relayout(meshBox, { width, height }).then(refresh);
    else refresh();
  }).observe(stage);
  // the page is seen before the long work begins
  requestAnimationFrame(() => setTimeout(() => drawMesh().then(() => {
    paint();
    document.body.dataset.state = "ready";
  }), 0));
})();
