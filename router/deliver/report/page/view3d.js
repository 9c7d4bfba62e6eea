// The 3D view: an orthographic camera that orbits, drawn only when something changed.
const View = {
  paper: matchMedia('print'), ready: false, labels: [], picked: new Set(), batches: {},

  start(stage) {
    // Asked beforehand: three.js would complain loudly where there is no WebGL.
    const probe = document.createElement('canvas').getContext('webgl2');
    if (!probe) return false;
    const lose = probe.getExtension('WEBGL_lose_context');
    if (lose) lose.loseContext();
    try {
      this.renderer = new THREE.WebGLRenderer({ antialias: true, preserveDrawingBuffer: true });
    } catch (error) {
      return false;
    }
    this.stage = stage;
    this.canvas = this.renderer.domElement;
    this.canvas.tabIndex = 0;
    this.canvas.setAttribute('role', 'application');
    this.canvas.setAttribute('aria-label', '3D view of the route. Arrow keys turn it, plus and minus zoom, ' +
      'N and P go to the next and the previous head, Escape lets go.');
    stage.append(this.canvas);
    this.picture = document.createElement('img');
    this.picture.className = 'picture';
    this.picture.alt = '3D view as it was on the screen';
    stage.append(this.picture);
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    this.renderer.setClearColor(0xffffff, 1);
    this.scene = new THREE.Scene();
    this.scene.add(new THREE.HemisphereLight(0xffffff, 0x9a9a9a, 2.2));
    this.sun = new THREE.DirectionalLight(0xffffff, 1.3);
    this.scene.add(this.sun);
    this.camera = new THREE.OrthographicCamera(-1, 1, 1, -1, -1000, 1000);
    this.camera.up.set(0, 0, 1);
    this.controls = new THREE.OrbitControls(this.camera, this.canvas);
    this.controls.enableDamping = false;
    this.controls.zoomToCursor = true;
    this.controls.addEventListener('change', () => this.thicken());
    new ResizeObserver(() => this.resize()).observe(stage);
    this.ready = true;
    return true;
  },

  m(at) { return [(at[0] - this.middle[0]) / 1000, (at[1] - this.middle[1]) / 1000, (at[2] - this.middle[2]) / 1000]; },

  load(route) {
    this.route = route;
    const box = new THREE.Box3();
    for (const p of route.pieces) { box.expandByPoint(new THREE.Vector3(...p.a)); box.expandByPoint(new THREE.Vector3(...p.b)); }
    for (const h of route.heads) box.expandByPoint(new THREE.Vector3(...h.at));
    const c = box.getCenter(new THREE.Vector3());
    if (!this.middle) this.middle = [c.x, c.y, c.z];
    for (const batch of Object.values(this.batches)) batch.remove(this.scene);
    const cylinder = () => new THREE.CylinderGeometry(1, 1, 1, 14, 1);
    const plain = (more) => new THREE.MeshLambertMaterial({ color: 0xffffff, ...more });
    const faint = { transparent: true, opacity: 0.14, depthWrite: false };
    const sleeves = route.fittings.reduce((n, f) => n + f.ways.length / 3, 0);
    const batch = (geometry, material, most) => new Batch(this.scene, geometry, material, most);
    this.batches = {
      pieces: batch(cylinder(), plain(), route.pieces.length),
      rest: batch(cylinder(), plain({ color: 0x777777, ...faint }), route.pieces.length),
      sleeves: batch(cylinder(), plain({ color: Palette.fitting }), sleeves),
      knots: batch(new THREE.SphereGeometry(1, 12, 8), plain({ color: Palette.fitting }), route.fittings.length),
      heads: batch(new THREE.ConeGeometry(1, 1.6, 16).rotateX(-Math.PI / 2), plain({ color: Palette.head }), route.heads.length),
      lost: batch(new THREE.BoxGeometry(2, 2, 2), plain({ color: Palette.unserved }), route.heads.length),
      hangers: batch(cylinder(), plain({ color: Palette.hanger }), route.hangers.length),
      picked: batch(cylinder(), new THREE.MeshBasicMaterial({ color: Palette.pick, transparent: true, opacity: 0.55, depthTest: false }),
        route.pieces.length + sleeves),
      spots: batch(new THREE.SphereGeometry(1, 16, 10),
        new THREE.MeshBasicMaterial({ color: Palette.pick, transparent: true, opacity: 0.5, depthTest: false }), route.heads.length + route.hangers.length + 1),
    };
    this.around();
    this.name();
  },

  around() {
    for (const group of [this.things, this.above]) if (group) this.scene.remove(group);
    this.things = new THREE.Group();
    this.above = new THREE.Group();
    this.solids = [];
    for (const item of this.route.obstructions) {
      const plan = item.plan.map((p) => this.m([p[0], p[1], 0]).slice(0, 2));
      const [low, high] = item.z.map((z) => this.m([0, 0, z])[2]);
      const colour = Palette.obstruction[item.kind.toLowerCase()] || Palette.other;
      const mesh = new THREE.Mesh(Shapes.prism(plan, low, high),
        new THREE.MeshLambertMaterial({ color: colour, transparent: true, opacity: 0.34, depthWrite: false, side: THREE.DoubleSide }));
      mesh.userData.thing = item;
      const edges = new THREE.LineSegments(new THREE.EdgesGeometry(mesh.geometry, 20), new THREE.LineBasicMaterial({ color: 0x8a8a8a }));
      this.things.add(mesh, edges);
      this.solids.push(mesh);
    }
    for (const item of this.data().ceilings) {
      const plan = item.plan.map((p) => this.m([p[0], p[1], 0]).slice(0, 2));
      const geometry = Shapes.prism(plan, this.m([0, 0, item.z])[2], this.m([0, 0, item.z])[2]);
      this.above.add(new THREE.Mesh(geometry, new THREE.MeshBasicMaterial(
        { color: 0xd9d2c0, transparent: true, opacity: 0.16, depthWrite: false, side: THREE.DoubleSide })));
      this.above.add(new THREE.LineSegments(new THREE.EdgesGeometry(geometry, 20), new THREE.LineBasicMaterial({ color: 0xa89f88 })));
    }
    this.scene.add(this.things, this.above);
  },

  data() { return Model.data; },

  name() {
    for (const label of this.labels) label.node.remove();
    this.labels = [];
    const add = (text, at, kind, thing) => {
      const node = document.createElement('span');
      node.className = 'label ' + kind;
      node.textContent = text;
      node.hidden = true;
      node.setAttribute('aria-hidden', 'true');
      this.stage.append(node);
      this.labels.push({ node, at: new THREE.Vector3(...this.m(at)), thing, width: 8 + text.length * 7 });
    };
    const seen = new Set();
    for (const p of this.route.pieces) {
      if (p.kind === 'run' && !seen.has(p.run)) { seen.add(p.run); add(p.run, p.a, 'line', null); }
    }
    if (this.route.obstructions.length <= 60) {
      for (const o of this.route.obstructions) add(o.id, [o.plan[0][0], o.plan[0][1], o.z[1]], 'thing', o);
    }
    if (this.route.heads.length <= 400) for (const h of this.route.heads) add(h.id, h.at, 'head', h);
  },

  // Pipe is never thinner than 2.6 pixels and heads never smaller than 4, so that a whole floor can be read.
  thicken() {
    const zoom = this.camera.zoom;
    if (this.last && (zoom > this.filledAt * 1.2 || zoom < this.filledAt / 1.2)) { this.show(...this.last); this.mark(this.picked); }
    this.draw();
  },

  // shown: predicate on pieces; colour: piece -> css colour; looks: what stands around.
  show(shown, colour, looks) {
    this.last = [shown, colour, looks];
    this.filledAt = this.camera.zoom;
    const least = 1.3 / this.filledAt;
    const colours = new Map(), tint = (css) => {
      if (!colours.has(css)) colours.set(css, new THREE.Color(css));
      return colours.get(css);
    };
    const wide = (p) => Math.max(Model.od(p.dn) / 2000 * (p.kind === 'hose' ? 0.7 : 1), least * (p.kind === 'run' ? 1.2 : 0.9));
    const inside = [], outside = [];
    for (const p of this.route.pieces) {
      const matrix = Shapes.between(this.m(p.a), this.m(p.b), wide(p));
      if (shown(p)) inside.push([p, matrix, tint(colour(p))]);
      else outside.push([p, matrix, null]);
    }
    const sleeves = [], knots = [];
    for (const f of looks.fittings ? this.route.fittings : []) {
      if (!shown(f)) continue;
      const at = this.m(f.at), wider = Math.max(Model.od(Math.max(...f.sizes)) / 2000 * 1.32, least * 1.5);
      knots.push([f, Shapes.at(at, wider), null]);
      for (let k = 0; k < f.ways.length; k += 3) {
        const od = Math.max(Model.od(f.sizes[k / 3] || f.sizes[0]), 24) / 1000;
        const end = [0, 1, 2].map((n) => at[n] + f.ways[k + n] * od * 0.95);
        sleeves.push([f, Shapes.between(at, end, od / 2 * 1.3), null]);
      }
    }
    const heads = this.route.heads.filter((h) => shown(h));
    const big = Math.max(0.06, 3.4 / this.filledAt);
    const cone = (h) => {
      const turn = new THREE.Quaternion(), to = new THREE.Vector3(0, 0, h.kind.includes('upright') ? 1 : -1);
      if (h.kind.includes('sidewall')) to.set(Math.cos((h.facing || 0) * Math.PI / 180), Math.sin((h.facing || 0) * Math.PI / 180), 0);
      turn.setFromUnitVectors(new THREE.Vector3(0, 0, -1), to);
      return new THREE.Matrix4().compose(new THREE.Vector3(...this.m(h.at)), turn, new THREE.Vector3(big, big, big));
    };
    this.batches.pieces.fill(inside);
    this.batches.rest.fill(looks.ghost ? outside : []);
    this.batches.sleeves.fill(sleeves);
    this.batches.knots.fill(knots);
    this.batches.heads.fill(heads.filter((h) => h.served).map((h) => [h, cone(h), null]));
    this.batches.lost.fill(heads.filter((h) => !h.served).map((h) => [h, Shapes.at(this.m(h.at), Math.max(0.09, 5 / this.filledAt)), null]));
    this.batches.hangers.fill(!looks.hangers ? [] : this.route.hangers.filter((g) => shown(this.route.things.get('piece:' + g.piece) || g))
      .map((g) => [g, Shapes.between(this.m(g.at), this.m([g.at[0], g.at[1], g.at[2] + (g.rod || 220)]), Math.max(0.008, least * 0.45)), null]));
    this.things.visible = looks.obstructions !== 'off';
    for (const mesh of this.solids) {
      const solid = looks.obstructions === 'solid';
      mesh.material.transparent = !solid;
      mesh.material.opacity = solid ? 1 : 0.34;
      mesh.material.depthWrite = solid;
      mesh.material.needsUpdate = true;
    }
    this.above.visible = looks.ceilings;
    this.counts = { pieces: inside.length, fittings: knots.length, heads: heads.length, hangers: this.batches.hangers.mesh.count };
    this.draw();
  },

  mark(things) {
    this.picked = things;
    if (!this.ready || !this.route) return;
    const tubes = [], spots = [];
    for (const x of things) {
      if (x.type === 'piece') tubes.push([x, Shapes.between(this.m(x.a), this.m(x.b), Math.max(Model.od(x.dn) / 2000 * 1.8 + 0.008, 3 / this.camera.zoom)), null]);
      if (x.type === 'fitting') {
        for (let k = 0; k < x.ways.length; k += 3) {
          const od = Model.od(x.sizes[0]) / 1000, at = this.m(x.at);
          tubes.push([x, Shapes.between(at, [0, 1, 2].map((n) => at[n] + x.ways[k + n] * od), od), null]);
        }
      }
      if (x.type === 'head') spots.push([x, Shapes.at(this.m(x.at), Math.max(0.13, 8 / this.camera.zoom)), null]);
      if (x.type === 'hanger') spots.push([x, Shapes.at(this.m(x.at), 0.06), null]);
    }
    this.batches.picked.fill(tubes.slice(0, this.batches.picked.mesh.instanceMatrix.count));
    this.batches.spots.fill(spots.slice(0, this.batches.spots.mesh.instanceMatrix.count));
    this.draw();
  },

  box(things) {
    const box = new THREE.Box3(), add = (at) => box.expandByPoint(new THREE.Vector3(...this.m(at)));
    for (const x of things) {
      if (x.a) { add(x.a); add(x.b); } else if (x.at) add(x.at);
      else if (x.plan) for (const p of x.plan) { add([p[0], p[1], x.z[0]]); add([p[0], p[1], x.z[1]]); }
    }
    return box;
  },

  // Look from a side at a box, so that it fills the view with some room about it.
  look(way, box, room = 1.1) {
    if (box.isEmpty()) return;
    const centre = box.getCenter(new THREE.Vector3());
    const out = way ? new THREE.Vector3(...way).normalize() : this.camera.position.clone().sub(this.controls.target).normalize();
    this.controls.target.copy(centre);
    this.camera.position.copy(centre).addScaledVector(out, 400);
    this.camera.lookAt(centre);
    this.camera.updateMatrixWorld();
    const side = new THREE.Vector3(), above = new THREE.Vector3(), back = new THREE.Vector3();
    this.camera.matrixWorld.extractBasis(side, above, back);
    let wide = 0.3, tall = 0.3;
    for (let k = 0; k < 8; k += 1) {
      const corner = new THREE.Vector3(k & 1 ? box.min.x : box.max.x, k & 2 ? box.min.y : box.max.y, k & 4 ? box.min.z : box.max.z).sub(centre);
      wide = Math.max(wide, Math.abs(corner.dot(side)));
      tall = Math.max(tall, Math.abs(corner.dot(above)));
    }
    const w = this.stage.clientWidth, h = this.stage.clientHeight;
    this.camera.zoom = Math.min(w / 2 / (wide * room), h / 2 / (tall * room)); // pixels for each metre
    this.resize();
    this.controls.update();
    this.thicken();
  },

  views: { top: [0, -0.0001, 1], front: [0, -1, 0.0001], side: [1, 0, 0.0001], iso: [-0.75, -1, 0.72] },

  // All that is shown: pipe and heads; what stands around it too where nothing is filtered out.
  shownBox() {
    const seen = [...this.batches.pieces.things, ...this.batches.heads.things, ...this.batches.lost.things];
    const whole = seen.length >= this.route.pieces.length + this.route.heads.length;
    const box = this.box(seen.length ? seen : [...this.route.pieces, ...this.route.heads]);
    if (whole || !seen.length) {
      if (this.things.visible) box.union(this.box(this.route.obstructions));
      if (this.above.visible) box.union(this.box(this.data().ceilings.map((c) => ({ plan: c.plan, z: [c.z, c.z] }))));
    }
    return box;
  },

  fit(name) {
    const box = this.shownBox();
    if (!this.batches.pieces.things.length || this.batches.pieces.things.length < this.route.pieces.length) box.expandByScalar(0.4);
    this.look(name === 'fit' ? null : this.views[name], box, 1.14);
  },

  flyTo(things) {
    const box = this.box(things);
    if (box.isEmpty()) return;
    box.expandByScalar(0.75);
    this.look(null, box);
  },

  turn(across, up) {
    const out = this.camera.position.clone().sub(this.controls.target);
    const far = out.length(), flat = Math.atan2(out.y, out.x) + across;
    const high = Math.max(-1.55, Math.min(1.55, Math.asin(out.z / far) + up));
    out.set(Math.cos(high) * Math.cos(flat), Math.cos(high) * Math.sin(flat), Math.sin(high)).multiplyScalar(far);
    this.camera.position.copy(this.controls.target).add(out);
    this.controls.update();
    this.draw();
  },

  zoom(by) {
    this.camera.zoom *= by;
    this.camera.updateProjectionMatrix();
    this.thicken();
  },

  resize() {
    const w = this.stage.clientWidth, h = this.stage.clientHeight;
    // On paper its picture stands for it, taken at the size of the screen.
    if (!w || !h || this.paper.matches) return;
    this.renderer.setSize(w, h, false);
    Object.assign(this.camera, { left: -w / 2, right: w / 2, top: h / 2, bottom: -h / 2 });
    this.camera.updateProjectionMatrix();
    this.draw();
  },

  draw() {
    if (this.waiting || !this.route) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.drawNow(); });
  },

  drawNow() {
    this.sun.position.copy(this.camera.position).sub(this.controls.target);
    this.renderer.render(this.scene, this.camera);
    this.placeLabels();
    this.drawn = (this.drawn || 0) + 1;
  },

  // On the stage, in its pixels from its upper left corner.
  pixel(at) {
    const v = (at.isVector3 ? at.clone() : new THREE.Vector3(...this.m(at))).project(this.camera);
    return [(v.x + 1) / 2 * this.stage.clientWidth, (1 - v.y) / 2 * this.stage.clientHeight, v.z];
  },

  placeLabels() {
    const taken = [], w = this.stage.clientWidth, h = this.stage.clientHeight;
    const heads = new Set([...this.batches.heads.things, ...this.batches.lost.things]);
    for (const label of this.labels) {
      const [x, y] = this.pixel(label.at);
      const left = x + 7, top = y - 16, off = left < 2 || top < 2 || left + label.width > w - 2 || top > h - 16;
      const gone = off || (label.thing && label.thing.type === 'head' && !heads.has(label.thing)) ||
        (label.thing && label.thing.type === 'obstruction' && !this.things.visible);
      const clash = gone || taken.some((t) => left < t[2] && left + label.width > t[0] && top < t[3] && top + 15 > t[1]);
      label.node.hidden = clash;
      if (clash) continue;
      taken.push([left, top, left + label.width, top + 15]);
      label.node.style.transform = 'translate(' + left.toFixed(0) + 'px,' + top.toFixed(0) + 'px)';
    }
  },

  // What lies under a pixel of the stage: heads and fittings before pipe, pipe before what stands around.
  under(x, y) {
    const perMetre = this.camera.zoom;
    let best = null;
    const offer = (thing, distance, radius, reach, depth, rank) => {
      const off = Math.max(0, distance - radius * perMetre);
      if (off > reach) return;
      const score = off * 10 + rank + depth;
      if (!best || score < best[1]) best = [thing, score];
    };
    for (const h of [...this.batches.heads.things, ...this.batches.lost.things]) {
      const [px, py, z] = this.pixel(h.at);
      offer(h, Math.hypot(px - x, py - y), 0.06, 5, z, 0);
    }
    for (const f of this.batches.knots.things) {
      const [px, py, z] = this.pixel(f.at);
      offer(f, Math.hypot(px - x, py - y), Model.od(f.sizes[0]) / 2000 * 1.3, 2, z, 2);
    }
    for (const g of this.batches.hangers.things) {
      const [px, py, z] = this.pixel([g.at[0], g.at[1], g.at[2] + (g.rod || 220) / 2]);
      offer(g, Math.hypot(px - x, py - y), 0.02, 3, z, 3);
    }
    for (const p of this.batches.pieces.things) {
      const [ax, ay, az] = this.pixel(p.a), [bx, by, bz] = this.pixel(p.b);
      const dx = bx - ax, dy = by - ay, all = dx * dx + dy * dy;
      const t = all ? Math.max(0, Math.min(1, ((x - ax) * dx + (y - ay) * dy) / all)) : 0;
      offer(p, Math.hypot(ax + t * dx - x, ay + t * dy - y), Model.od(p.dn) / 2000, 5, az + t * (bz - az), 4);
    }
    if (best) return best[0];
    if (!this.things.visible) return null;
    const ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2(x / this.stage.clientWidth * 2 - 1, 1 - y / this.stage.clientHeight * 2), this.camera);
    const hit = ray.intersectObjects(this.solids, false)[0];
    return hit ? hit.object.userData.thing : null;
  },

  snapshot() {
    if (!this.route) return;
    this.drawNow();
    this.picture.src = this.canvas.toDataURL('image/png');
  },
};
