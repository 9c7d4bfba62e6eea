// The data of the page as objects, and what is to be said of each thing. A thing is named 'piece:P0001'.
const Model = {
  data: JSON.parse(document.getElementById('data').textContent),
  routes: [],
  now: null,

  route(k) {
    if (!this.routes[k]) this.routes[k] = this.unfold(this.data.routes[k]);
    this.now = this.routes[k];
    return this.now;
  },

  unfold(raw) {
    const at = (list, i) => [list[3 * i], list[3 * i + 1], list[3 * i + 2]];
    const takeoffs = raw.takeoffs.id.map((id, i) => ({
      type: 'takeoff', id, run: raw.takeoffs.run[i], style: raw.takeoffs.style[i], heads: raw.takeoffs.heads[i],
      runs: raw.takeoffs.runs[i], pieces: [], fittings: [], found: [],
    }));
    const p = raw.pieces, f = raw.fittings, h = raw.heads, g = raw.hangers;
    const of = (i) => (i < 0 ? null : takeoffs[i]);
    const pieces = p.id.map((id, i) => ({
      type: 'piece', id, kind: p.kind[i], run: p.run[i], takeoff: of(p.takeoff[i]), dn: p.dn[i], a: at(p.a, i),
      b: at(p.b, i), length: p.length[i], mark: p.mark[i], cut: p.cut[i], cutText: p.cutText[i], found: [],
    }));
    const fittings = f.id.map((id, i) => ({
      type: 'fitting', id, kind: f.kind[i], run: f.run[i], takeoff: of(f.takeoff[i]), at: at(f.at, i), ways: f.ways[i],
      sizes: f.sizes[i], found: [],
    }));
    const kinds = new Map(this.data.heads.id.map((id, i) => [id, [this.data.heads.kind[i], this.data.heads.facing[i]]]));
    const heads = h.id.map((id, i) => ({
      type: 'head', id, served: h.served[i] === 1, run: h.run[i], takeoff: of(h.takeoff[i]), at: at(h.at, i),
      kind: (kinds.get(id) || ['head'])[0], facing: (kinds.get(id) || [0, null])[1], found: [],
    }));
    const hangers = g.id.map((id, i) => ({
      type: 'hanger', id, run: g.run[i], piece: g.piece[i], at: at(g.at, i), rod: g.rod[i], from: g.from[i], found: [],
    }));
    const obstructions = this.data.obstructions.map((o) => ({ type: 'obstruction', found: [], ...o }));
    const runs = this.data.runs.map((id) => ({ type: 'run', id, found: [] }));
    const changes = raw.changes.id.map((id, i) => ({
      type: 'change', id, run: raw.changes.run[i], pieces: raw.changes.pieces[i], fittings: raw.changes.fittings[i], found: [],
    }));
    for (const x of pieces) if (x.takeoff) x.takeoff.pieces.push(x);
    for (const x of fittings) if (x.takeoff) x.takeoff.fittings.push(x);
    const all = [...pieces, ...fittings, ...heads, ...hangers, ...takeoffs, ...runs, ...changes, ...obstructions];
    const things = new Map(), byId = new Map();
    for (const thing of all) {
      things.set(thing.type + ':' + thing.id, thing);
      if (!byId.has(thing.id)) byId.set(thing.id, thing);
    }
    raw.findings.text.forEach((text, i) => {
      for (const id of new Set([raw.findings.about[i], raw.findings.against[i]])) {
        const thing = id === null ? null : byId.get(id);
        if (thing) thing.found.push({ severity: raw.findings.severity[i], text });
      }
    });
    return { name: raw.name, takeoffs, pieces, fittings, heads, hangers, obstructions, runs, things, byId };
  },

  // What a head or a piece of pipe has findings on: its own and its takeoff's.
  foundOn(thing) {
    return thing.found.length > 0 || (thing.takeoff ? thing.takeoff.found.length > 0 : false);
  },

  // The things that a key stands for: 'pieces:P1 P2' are several, 'any:X' is whatever has that id.
  named(key) {
    const cut = key.indexOf(':'), type = key.slice(0, cut), id = key.slice(cut + 1);
    if (type === 'pieces' || type === 'fittings') {
      return id.split(' ').map((one) => this.now.things.get(type.slice(0, -1) + ':' + one)).filter(Boolean);
    }
    const thing = type === 'any' ? this.now.byId.get(id) : this.now.things.get(key);
    return thing ? [thing] : [];
  },

  // Everything that belongs to a key, to be shown with it: a head's whole takeoff, a run's pipe.
  family(key) {
    const found = new Set();
    for (const thing of this.named(key)) {
      found.add(thing);
      if (thing.type === 'run') {
        for (const x of this.now.pieces) if (x.run === thing.id && x.kind === 'run') found.add(x);
      } else if (thing.type === 'change') {
        for (const id of thing.pieces) found.add(this.now.things.get('piece:' + id));
        for (const id of thing.fittings) found.add(this.now.things.get('fitting:' + id));
      } else if (thing.type === 'head' || thing.type === 'takeoff') {
        const takeoff = thing.type === 'head' ? thing.takeoff : thing;
        if (takeoff) {
          for (const x of [...takeoff.pieces, ...takeoff.fittings]) found.add(x);
          for (const id of takeoff.heads) found.add(this.now.things.get('head:' + id));
        }
      }
    }
    found.delete(undefined);
    return found;
  },

  size(dn) { return (this.data.sizes[dn] || ['DN' + dn])[0]; },
  od(dn) { return (this.data.sizes[dn] || ['', dn])[1]; },
  style(name) { return this.data.styles[name] || name; },
  place(at) { return at.map((v) => Units.text(v, 0, 'b')).join(', ') + ' ' + Units.words[Units.now]; },

  // Title and rows of what a tooltip says.
  describe(thing) {
    const rows = [], add = (name, value) => { if (value !== null && value !== undefined && value !== '') rows.push([name, value]); };
    const owner = (x) => {
      if (!x.takeoff) { add('line', x.run); return; }
      add('line', x.run);
      add('takeoff', x.takeoff.id + ', ' + this.style(x.takeoff.style));
      if (x.takeoff.heads.length) add(x.takeoff.heads.length > 1 ? 'heads' : 'head', x.takeoff.heads.join(', '));
      if (x.takeoff.runs.length) add('feeds line', x.takeoff.runs.join(', '));
    };
    let title = thing.id;
    if (thing.type === 'piece') {
      title = thing.id + ': ' + (this.data.kinds[thing.kind] || thing.kind) + ', ' + this.size(thing.dn);
      add('mark', thing.mark);
      add('centre to centre', Units.text(thing.length, 1, 'c'));
      if (thing.cut !== null) {
        const cut = Units.text(thing.cut, 1, 'c');
        add(thing.mark === 'to order' ? 'from the face' : 'cut length', cut + (thing.cutText && thing.cutText !== cut ? ' (' + thing.cutText + ')' : ''));
      } else add('cut length', thing.cutText);
      owner(thing);
      const rise = thing.b[2] - thing.a[2];
      add('elevation', Units.text(thing.a[2]) + (Math.abs(rise) > 0.5 ? ' to ' + Units.text(thing.b[2]) : ''));
    } else if (thing.type === 'fitting') {
      title = thing.id + ': ' + thing.kind.replace(/_/g, ' ');
      add('sizes', thing.sizes.map((dn) => this.size(dn)).join(' x '));
      owner(thing);
      add('place', this.place(thing.at));
    } else if (thing.type === 'head') {
      title = thing.id + ': ' + thing.kind + ' head' + (thing.served ? '' : ', NOT SERVED');
      owner(thing);
      if (thing.takeoff) add('fittings', thing.takeoff.fittings.filter((f) => f.kind !== 'reducer').length);
      add('inlet', this.place(thing.at));
    } else if (thing.type === 'hanger') {
      title = thing.id + ': hanger';
      add('line', thing.run);
      add('on pipe', thing.piece);
      add('hangs from', thing.from || 'not given');
      if (thing.rod !== null) add('rod', Units.text(thing.rod));
    } else if (thing.type === 'obstruction') {
      title = thing.id + ': ' + thing.kind;
      add('underside', Units.text(thing.z[0]));
      add('top', Units.text(thing.z[1]));
      add('clearance', Units.text(thing.clearance));
    } else if (thing.type === 'run') {
      title = 'line ' + thing.id;
    } else if (thing.type === 'takeoff') {
      title = thing.id + ': ' + this.style(thing.style);
      add('line', thing.run);
      add('heads', thing.heads.join(', '));
    }
    return { title, rows, found: thing.found };
  },
};
