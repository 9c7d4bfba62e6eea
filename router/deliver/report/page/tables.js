// Tables: sorted by a click on a head, filtered by a word, long ones shown in parts. Printing shows every row.
const Tables = {
  most: 200,

  start() {
    for (const table of document.querySelectorAll('table.data')) this.prepare(table);
  },

  prepare(table) {
    const rows = table.tBodies[0].rows.length;
    const box = table.closest('.scroll');
    if (rows > 25) box.classList.add('long');
    if (rows > 1) {
      [...table.tHead.rows[0].cells].forEach((cell, k) => {
        if (!cell.textContent.trim()) return;
        // A span, not a button: with buttons in it a head is not repeated on the pages of a print.
        const button = document.createElement('span');
        button.setAttribute('role', 'button');
        button.tabIndex = 0;
        button.className = 'sort';
        button.append(...cell.childNodes);
        button.title = 'Sort by this column';
        button.addEventListener('click', () => this.sort(table, k, cell));
        button.addEventListener('keydown', (event) => {
          if (event.key !== 'Enter' && event.key !== ' ') return;
          event.preventDefault();
          this.sort(table, k, cell);
        });
        cell.append(button);
      });
    }
    // What a cell folds away is unfolded over the whole width, in a row of its own.
    table.addEventListener('toggle', (event) => {
      const details = event.target;
      if (details.nodeName === 'DETAILS' && details.closest('td')) { if (details.open) this.unfold(details); else this.fold(details); }
    }, true);
    if (rows > 12) {
      const finder = document.createElement('div');
      finder.className = 'finder';
      const label = document.createElement('label');
      const input = document.createElement('input');
      input.type = 'search';
      input.placeholder = 'words in a row';
      const told = document.createElement('span');
      told.setAttribute('role', 'status');
      label.append('Find ', input);
      finder.append(label);
      const groups = new Set([...table.tBodies[0].rows].map((row) => row.dataset.group).filter(Boolean));
      let group = null;
      if (groups.size > 1) {
        const box = document.createElement('label');
        group = document.createElement('select');
        group.autocomplete = 'off';
        group.append(new Option('all', ''), ...[...groups].map((one) => new Option(one, one)));
        group.addEventListener('change', () => change());
        box.append(table.dataset.grouped + ' ', group);
        finder.append(box);
      }
      finder.append(told);
      const change = () => this.filter(table, input.value, told, group ? group.value : '');
      input.setAttribute('aria-label', 'Find in ' + table.caption.textContent);
      input.addEventListener('input', change);
      box.before(finder);
    }
    if (rows > this.most) {
      const more = document.createElement('p');
      more.className = 'more';
      const button = document.createElement('button');
      button.type = 'button';
      button.addEventListener('click', () => { table.dataset.all = '1'; this.cut(table); more.remove(); });
      button.textContent = 'Show all ' + Units.number(rows, 0) + ' rows (' + this.most + ' are shown; printing shows all)';
      more.append(button);
      box.after(more);
    }
    this.cut(table);
  },

  cut(table) {
    let shown = 0;
    for (const row of table.tBodies[0].rows) {
      if (row.classList.contains('away') || row.classList.contains('unfolded')) continue;
      shown += 1;
      row.classList.toggle('rest', !table.dataset.all && shown > this.most && !row.classList.contains('picked'));
    }
  },

  unfold(details) {
    if (details.row) return;
    const own = details.closest('tr'), row = document.createElement('tr'), cell = document.createElement('td');
    row.className = 'unfolded';
    cell.colSpan = own.cells.length;
    cell.append(...[...details.childNodes].filter((node) => node.nodeName !== 'SUMMARY'));
    row.append(cell);
    own.after(row);
    details.row = row;
  },

  fold(details) {
    if (!details.row) return;
    details.append(...details.row.cells[0].childNodes);
    details.row.remove();
    details.row = null;
  },

  foldAll(table) {
    for (const details of table.querySelectorAll('tbody td details[open]')) { this.fold(details); details.open = false; }
  },

  // Only what can be seen of a row is searched.
  said(row) {
    if (row.saidIn !== Units.now) {
      const seen = [...row.cells].flatMap((cell) => [...cell.childNodes].filter((node) => node.nodeName !== 'DETAILS'));
      row.said = seen.map((node) => node.textContent).join(' ').toLowerCase();
      row.saidIn = Units.now;
    }
    return row.said;
  },

  filter(table, words, told, group) {
    this.foldAll(table);
    const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
    let left = 0;
    for (const row of table.tBodies[0].rows) {
      const said = this.said(row), fits = wanted.every((word) => said.includes(word)) && (!group || row.dataset.group === group);
      row.classList.toggle('away', !fits);
      left += fits ? 1 : 0;
    }
    const all = table.tBodies[0].rows.length;
    told.textContent = wanted.length || group ? Units.number(left, 0) + ' of ' + Units.number(all, 0) + ' rows' : '';
    this.cut(table);
  },

  value(row, k) {
    const cell = row.cells[k];
    if (cell.dataset.v !== undefined) return Number(cell.dataset.v);
    const length = cell.querySelector('.len');
    if (length && cell.classList.contains('n')) return Number(length.dataset.mm);
    const text = cell.textContent.trim();
    if (cell.classList.contains('n')) {
      const number = parseFloat(text.replace(/,/g, ''));
      return Number.isNaN(number) ? null : number;
    }
    return text;
  },

  sort(table, k, head) {
    this.foldAll(table);
    const down = head.getAttribute('aria-sort') === 'ascending';
    for (const cell of table.tHead.rows[0].cells) cell.removeAttribute('aria-sort');
    head.setAttribute('aria-sort', down ? 'descending' : 'ascending');
    const order = new Intl.Collator('en', { numeric: true }).compare;
    const body = table.tBodies[0];
    const rows = [...body.rows].map((row, n) => [this.value(row, k), n, row]);
    const empty = (v) => v === null || v === '';
    rows.sort(([a, n], [b, m]) => {
      if (empty(a) || empty(b)) return empty(a) - empty(b) || n - m;
      const way = typeof a === 'number' && typeof b === 'number' ? a - b : order(String(a), String(b));
      return (down ? -way : way) || n - m;
    });
    body.append(...rows.map((row) => row[2]));
    this.cut(table);
  },

  // Bring a row to the screen, whatever is folded or filtered.
  reveal(row) {
    for (let box = row.closest('details'); box; box = box.parentElement.closest('details')) box.open = true;
    this.show(row);
    row.scrollIntoView({ block: 'center' });
  },

  show(row) {
    row.classList.remove('rest', 'away');
  },
};
