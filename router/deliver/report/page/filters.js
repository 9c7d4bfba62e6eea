// What is shown in 3D, how it is coloured; the plan follows.
const Filters = {
  start() {
    this.form = document.getElementById('filters');
    this.form.addEventListener('change', (event) => {
      this.apply();
      // What is chosen to be shown fills the view.
      const chosen = event.target.id || '';
      if (View.ready && !Linking.key && /^f-(storey|run|style|findings)$/.test(chosen)) View.fit('fit');
    });
    this.form.addEventListener('submit', (event) => event.preventDefault());
  },

  value(id) { return document.getElementById(id).value; },
  on(id) { return document.getElementById(id).checked; },

  fits() {
    const storey = document.getElementById('f-storey');
    const floor = storey && storey.value ? new Set(Model.data.storeys[Number(storey.value)]) : null;
    const run = this.value('f-run'), style = this.value('f-style'), found = this.on('f-findings');
    const kinds = new Set([...this.form.querySelectorAll('[data-kind]')].filter((box) => box.checked).map((box) => box.dataset.kind));
    return (thing) => {
      if (floor && !floor.has(thing.run)) return false;
      if (run && thing.run !== run) return false;
      if (style && (!thing.takeoff || thing.takeoff.style !== style)) return false;
      if (found && !Model.foundOn(thing)) return false;
      return thing.type !== 'piece' || kinds.has(thing.kind);
    };
  },

  colours() {
    const by = this.value('f-colour'), list = Palette.list, used = new Map();
    const keys = { kind: (p) => p.kind, style: (p) => (p.takeoff ? p.takeoff.style : ''), size: (p) => String(p.dn), run: (p) => p.run }[by];
    const all = [...new Set(Model.now.pieces.map(keys))];
    if (by === 'size') all.sort((a, b) => Number(b) - Number(a));
    all.forEach((key, k) => {
      const own = by === 'kind' ? Palette.kind[key] : by === 'style' && key === '' ? '#9a9a9a' : null;
      used.set(key, own || list[k % list.length]);
    });
    const words = { kind: (k) => Model.data.kinds[k] || k, style: (k) => (k ? Model.style(k) : 'line pipe'), size: (k) => Model.size(k), run: (k) => k }[by];
    return { of: (p) => used.get(keys(p)), rows: all.map((key) => [words(key), used.get(key)]) };
  },

  apply() {
    const fits = this.fits(), colours = this.colours(), list = document.getElementById('colours');
    list.replaceChildren(...colours.rows.slice(0, 12).map(([words, css]) => {
      const item = document.createElement('li'), box = document.createElement('i');
      box.style.background = css;
      item.append(box, words);
      return item;
    }));
    if (colours.rows.length > 12) list.append('and ' + (colours.rows.length - 12) + ' more, colours repeat');
    if (View.ready) {
      View.show(fits, colours.of, {
        obstructions: this.value('f-obstructions'), ceilings: this.on('f-ceilings'), hangers: this.on('f-hangers'),
        fittings: this.on('f-fittings'), ghost: this.on('f-ghost'),
      });
      View.mark(View.picked);
    }
    const n = { pieces: Model.now.pieces.filter(fits).length, heads: Model.now.heads.filter(fits).length };
    document.getElementById('shown-count').textContent = 'Shown: ' + Units.number(n.pieces, 0) + ' of ' +
      Units.number(Model.now.pieces.length, 0) + ' pieces, ' + Units.number(n.heads, 0) + ' of ' + Units.number(Model.now.heads.length, 0) + ' heads.';
    Drawings.dim((type, id) => {
      const thing = Model.now.things.get(type + ':' + id);
      return thing && !fits(thing);
    });
  },
};
