// Plan and sections: their size on the screen, what the pointer rests on, what is dimmed or marked.
const Drawings = {
  types: ['piece', 'fitting', 'head', 'hanger', 'obstruction', 'takeoff'],

  start() {
    for (const box of document.querySelectorAll('.drawing')) {
      const svg = box.querySelector('svg');
      if (!svg) continue;
      svg.dataset.zoom = '1';
      this.size(box);
      box.addEventListener('pointermove', (event) => Linking.over(this.at(event.target), event));
      box.addEventListener('pointerleave', () => Linking.over(null));
      box.addEventListener('click', (event) => { const key = this.at(event.target); if (key) Linking.pick(key, event); });
    }
    for (const button of document.querySelectorAll('[data-zoom]')) {
      if (button.tagName !== 'BUTTON') continue;
      button.addEventListener('click', () => {
        const box = button.closest('.tools').nextElementSibling, svg = box.querySelector('svg');
        const by = { in: 1.5, out: 1 / 1.5 }[button.dataset.zoom];
        const before = [box.scrollLeft + box.clientWidth / 2, box.scrollTop + box.clientHeight / 2];
        const old = svg.clientWidth;
        svg.dataset.zoom = by ? String(Math.min(12, Math.max(0.4, Number(svg.dataset.zoom) * by))) : 'fit';
        this.size(box);
        if (svg.dataset.zoom === 'fit') svg.dataset.zoom = '1';
        const ratio = svg.clientWidth / old;
        box.scrollLeft = before[0] * ratio - box.clientWidth / 2;
        box.scrollTop = before[1] * ratio - box.clientHeight / 2;
      });
    }
    window.addEventListener('resize', () => this.resize());
  },

  resize() { for (const box of document.querySelectorAll('.drawing')) if (box.querySelector('svg')) this.size(box); },

  // As wide as the page, but never so small that its letters (2.2 to 2.7 mm on paper) cannot be read.
  size(box) {
    const svg = box.querySelector('svg'), paper = Number(svg.dataset.w);
    if (!paper || !box.clientWidth) return;
    const least = paper * 3.05, most = paper * 5;
    const zoom = svg.dataset.zoom;
    const width = zoom === 'fit' ? box.clientWidth - 18 : Math.max(least, Math.min(most, box.clientWidth - 18)) * Number(zoom);
    svg.style.width = width.toFixed(0) + 'px';
  },

  at(node) {
    for (let n = node; n && n.closest && n.tagName !== 'svg' && n.tagName !== 'DIV'; n = n.parentNode) {
      for (const type of this.types) {
        const id = n.getAttribute('data-' + type);
        if (id && Model.now.things.has(type + ':' + id)) return type + ':' + id;
      }
    }
    return null;
  },

  index() {
    this.nodes = new Map();
    for (const type of this.types) {
      for (const node of document.querySelectorAll('.of-route.on .drawing [data-' + type + ']')) {
        const key = type + ':' + node.getAttribute('data-' + type);
        if (!this.nodes.has(key)) this.nodes.set(key, []);
        this.nodes.get(key).push(node);
      }
    }
  },

  dim(away) {
    for (const [key, nodes] of this.nodes || []) {
      const cut = key.indexOf(':'), type = key.slice(0, cut);
      if (type !== 'piece' && type !== 'head' && type !== 'fitting') continue;
      const faint = away(type, key.slice(cut + 1));
      for (const node of nodes) node.classList.toggle('faint', Boolean(faint));
    }
  },

  mark(things) {
    for (const node of document.querySelectorAll('.drawing .picked')) node.classList.remove('picked');
    for (const x of things) for (const node of (this.nodes && this.nodes.get(x.type + ':' + x.id)) || []) node.classList.add('picked');
  },
};
