// Units, route and picked thing are remembered in the address: #heads;units=ft;route=1;at=head:H05
const State = {
  part: '',

  read() {
    const found = { units: 'mm', route: '0', at: '' };
    const [part, ...rest] = decodeURIComponent(location.hash.slice(1)).split(';');
    this.part = part;
    for (const one of rest) {
      const cut = one.indexOf('=');
      if (cut > 0) found[one.slice(0, cut)] = one.slice(cut + 1);
    }
    return found;
  },

  write() {
    const parts = [this.part];
    if (Units.now !== 'mm') parts.push('units=' + Units.now);
    if (Model.now !== Model.routes[0]) parts.push('route=' + Model.routes.indexOf(Model.now));
    if (Linking.key) parts.push('at=' + Linking.key);
    const hash = parts.length > 1 || parts[0] ? '#' + encodeURI(parts.join(';')).replace(/#/g, '%23') : '';
    try { history.replaceState(null, '', location.href.split('#')[0] + hash); } catch (error) { /* some browsers refuse it for files */ }
  },
};

const Page = {
  start() {
    const root = document.documentElement, wanted = State.read();
    root.classList.add('js');
    const routes = document.getElementById('route'), units = document.getElementById('units');
    const first = Math.max(0, Math.min(Model.data.routes.length - 1, Number(wanted.route) || 0));
    Tables.start();
    if (View.start(document.getElementById('stage'))) root.classList.add('webgl');
    Filters.start();
    Linking.start();
    this.choose(first, true);
    Drawings.start();
    if (routes) {
      routes.value = String(first);
      routes.addEventListener('change', () => this.choose(Number(routes.value)));
    }
    units.value = Units.words[wanted.units] ? wanted.units : 'mm';
    if (units.value !== 'mm') Units.choose(units.value);
    units.addEventListener('change', () => { Units.choose(units.value); State.write(); });
    for (const button of document.querySelectorAll('[data-view]')) button.addEventListener('click', () => View.fit(button.dataset.view));
    for (const link of document.querySelectorAll('nav a, .skip')) {
      link.addEventListener('click', (event) => {
        event.preventDefault();
        const part = document.getElementById(link.getAttribute('href').slice(1));
        State.part = part.id;
        State.write();
        part.scrollIntoView();
        part.tabIndex = -1;
        part.focus({ preventScroll: true });
      });
    }
    this.follow();
    this.printing();
    if (wanted.at && Model.named(wanted.at).length) Linking.pick(wanted.at, null, true);
    const part = State.part && document.getElementById(State.part);
    if (part) part.scrollIntoView();
    root.dataset.ready = '1';
  },

  choose(k, first) {
    Linking.let();
    Model.route(k);
    for (const part of document.querySelectorAll('.of-route')) part.classList.toggle('on', part.dataset.route === String(k));
    Drawings.index();
    Drawings.resize();
    if (View.ready) View.load(Model.now);
    Filters.apply();
    if (View.ready && first) { View.resize(); View.fit('iso'); }
    State.write();
  },

  // Which part is on the screen.
  follow() {
    const links = new Map([...document.querySelectorAll('nav a')].map((a) => [a.getAttribute('href').slice(1), a]));
    let due = false;
    const mark = () => {
      due = false;
      let now = null;
      for (const id of links.keys()) if (document.getElementById(id).getBoundingClientRect().top < innerHeight / 3) now = id;
      for (const [id, link] of links) if (id === now) link.setAttribute('aria-current', 'true'); else link.removeAttribute('aria-current');
    };
    addEventListener('scroll', () => { if (!due) { due = true; requestAnimationFrame(mark); } }, { passive: true });
    mark();
  },

  printing() {
    let closed = [];
    addEventListener('beforeprint', () => {
      closed = [...document.querySelectorAll('details:not([open])')].filter((one) => !one.closest('td'));
      for (const one of closed) one.open = true;
      View.snapshot();
    });
    View.paper.addEventListener('change', () => { if (View.paper.matches) View.snapshot(); });
    addEventListener('afterprint', () => { for (const one of closed) one.open = false; if (View.ready) View.picture.removeAttribute('src'); });
  },
};

window.report = {
  units: Units,
  view: View,
  // Where a thing is on the screen, in pixels of the window; pieces at their middle.
  placeOf(key) {
    const thing = Model.named(key)[0];
    const at = thing.a ? thing.a.map((v, n) => (v + thing.b[n]) / 2) : thing.at;
    const box = View.stage.getBoundingClientRect(), [x, y] = View.pixel(at);
    return [box.left + x, box.top + y];
  },
  shown: () => View.counts,
  picked: () => Linking.key,
};
Page.start();
