// One thing is picked at a time: the tooltip stays, and 3D, plan, sections and tables mark it.
const Linking = {
  key: null,

  start() {
    this.tip = document.getElementById('tip');
    document.addEventListener('click', (event) => {
      const go = event.target.closest('[data-go]');
      if (go) { this.pick(go.dataset.go, event, true); document.getElementById('space').scrollIntoView(); return; }
      const row = event.target.closest('tr[data-thing]');
      if (row && !event.target.closest('summary, a') && !String(window.getSelection())) this.pick(row.dataset.thing, event, true);
    });
    document.addEventListener('keydown', (event) => { if (event.key === 'Escape') this.let(); });
    document.getElementById('unpin').addEventListener('click', () => this.let());
    if (View.ready) this.stage(View.stage);
  },

  stage(stage) {
    const place = (event) => { const box = stage.getBoundingClientRect(); return [event.clientX - box.left, event.clientY - box.top]; };
    let down = null;
    View.canvas.addEventListener('pointermove', (event) => {
      if (event.buttons) { this.over(null); return; }
      const thing = View.under(...place(event));
      View.canvas.style.cursor = thing ? 'pointer' : 'grab';
      this.over(thing ? thing.type + ':' + thing.id : null, event);
    });
    View.canvas.addEventListener('pointerleave', () => this.over(null));
    View.canvas.addEventListener('pointerdown', (event) => { down = [event.clientX, event.clientY]; });
    View.canvas.addEventListener('pointerup', (event) => {
      if (!down || Math.hypot(event.clientX - down[0], event.clientY - down[1]) > 4 || event.button !== 0) return;
      const thing = View.under(...place(event));
      if (thing) this.pick(thing.type + ':' + thing.id, event);
      else this.let();
    });
    View.canvas.addEventListener('keydown', (event) => {
      const turns = { ArrowLeft: [0.12, 0], ArrowRight: [-0.12, 0], ArrowUp: [0, 0.1], ArrowDown: [0, -0.1] };
      if (turns[event.key]) View.turn(...turns[event.key]);
      else if (event.key === '+' || event.key === '=') View.zoom(1.25);
      else if (event.key === '-') View.zoom(0.8);
      else if (event.key === 'n' || event.key === 'p') this.step(event.key === 'n' ? 1 : -1);
      else return;
      event.preventDefault();
    });
  },

  step(by) {
    const heads = Model.now.heads, now = heads.findIndex((h) => 'head:' + h.id === this.key);
    const next = heads[(now + by + heads.length) % heads.length];
    if (next) this.pick('head:' + next.id, null, true);
  },

  over(key, event) {
    if (this.key) return;
    const thing = key ? Model.named(key)[0] : null;
    if (!thing) { this.tip.hidden = true; return; }
    this.tell(thing);
    this.move(event.clientX, event.clientY);
  },

  tell(thing) {
    const said = Model.describe(thing), title = document.createElement('b'), list = document.createElement('dl');
    title.textContent = said.title;
    for (const [name, value] of said.rows) {
      const dt = document.createElement('dt'), dd = document.createElement('dd');
      dt.textContent = name;
      dd.textContent = value;
      list.append(dt, dd);
    }
    const close = document.createElement('button');
    close.type = 'button';
    close.className = 'close';
    close.textContent = '\u00d7';
    close.setAttribute('aria-label', 'Close');
    close.addEventListener('click', () => this.let());
    this.tip.replaceChildren(title, list);
    if (said.found.length) {
      const found = document.createElement('ul');
      for (const f of said.found.slice(0, 5)) {
        const item = document.createElement('li');
        item.textContent = f.severity + ': ' + f.text;
        found.append(item);
      }
      this.tip.append(found);
    }
    const rows = this.key ? this.links(thing) : [];
    if (rows.length) {
      const links = document.createElement('p');
      links.className = 'links';
      for (const [words, row] of rows) {
        const to = document.createElement('button');
        to.type = 'button';
        to.className = 'go';
        to.textContent = words;
        to.addEventListener('click', () => { Tables.reveal(row); });
        links.append(to);
      }
      this.tip.append(links);
    }
    this.tip.append(close);
    this.tip.hidden = false;
  },

  // Rows of the tables that a thing is in: its head's, its cut mark's.
  links(thing) {
    const on = (selector) => [...document.querySelectorAll('.of-route.on ' + selector)];
    const head = thing.type === 'head' ? thing.id : thing.takeoff && thing.takeoff.heads[0];
    const found = [];
    const row = head && on('tr[data-thing]').find((r) => r.dataset.thing === 'head:' + head && r.closest('#heads'));
    if (row) found.push(['row of ' + head, row]);
    const cut = thing.type === 'piece' && on('tr[data-thing]').find((r) => r.closest('#buy') &&
      (r.dataset.thing === 'piece:' + thing.id || (r.dataset.thing.startsWith('pieces:') && r.dataset.thing.slice(7).split(' ').includes(thing.id))));
    if (cut) found.push([thing.mark && thing.mark !== 'to order' ? 'cut mark ' + thing.mark : 'in what to buy', cut]);
    return found;
  },

  move(x, y) {
    const box = this.tip.getBoundingClientRect();
    const left = x + 16 + box.width > innerWidth ? x - 16 - box.width : x + 16;
    const top = y + 14 + box.height > innerHeight ? y - 14 - box.height : y + 14;
    this.tip.style.transform = 'translate(' + Math.max(4, left).toFixed(0) + 'px,' + Math.max(4, top).toFixed(0) + 'px)';
  },

  pick(key, event, fly) {
    const family = Model.family(key);
    if (!family.size) return;
    this.key = key;
    if (View.ready) {
      View.mark(family);
      if (fly) View.flyTo(family);
    }
    Drawings.mark(family);
    this.rows(family, key);
    const inRow = event && event.target.closest && event.target.closest('tr');
    this.tip.hidden = true;
    this.tip.classList.add('pinned');
    document.getElementById('unpin').hidden = false;
    const thing = [...family][0];
    if (event && !inRow && event.clientX !== undefined) { this.tell(thing); this.move(event.clientX, event.clientY); }
    else if (fly && View.ready) {
      this.tell(thing);
      const box = View.stage.getBoundingClientRect();
      if (event && event.target.closest('[data-go]')) setTimeout(() => { const b = View.stage.getBoundingClientRect(); this.move(b.right - 8, b.top + 4); }, 60);
      else if (box.bottom > 0 && box.top < innerHeight) this.move(box.right - 8, box.top + 4);
      else this.tip.hidden = true;
    }
    State.write();
  },

  rows(family, key) {
    for (const row of document.querySelectorAll('tr.picked')) row.classList.remove('picked');
    const keys = new Set([key, ...[...family].filter((x) => x.type === 'head' || x.type === 'piece' || x.type === 'fitting').map((x) => x.type + ':' + x.id)]);
    const ids = new Set([...keys].map((k) => k.slice(k.indexOf(':') + 1)));
    for (const row of document.querySelectorAll('.of-route.on tr[data-thing], #routes tr[data-thing]')) {
      const own = row.dataset.thing, cut = own.indexOf(':'), type = own.slice(0, cut), id = own.slice(cut + 1);
      const hit = keys.has(own) || (type === 'any' && ids.has(id)) ||
        (key.startsWith('piece:') && type === 'pieces' && id.split(' ').includes(key.slice(6)));
      if (hit) { row.classList.add('picked'); Tables.show(row); }
    }
  },

  let() {
    this.key = null;
    this.tip.hidden = true;
    this.tip.classList.remove('pinned');
    document.getElementById('unpin').hidden = true;
    for (const row of document.querySelectorAll('tr.picked')) row.classList.remove('picked');
    Drawings.mark([]);
    View.mark(new Set());
    State.write();
  },
};
