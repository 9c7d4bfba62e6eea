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
    if (rows > 12) {
      const finder = document.createElement('label');
      finder.className = 'finder';
      const input = document.createElement('input');
      input.type = 'search';
      input.placeholder = 'words in a row';
      const told = document.createElement('span');
      told.setAttribute('role', 'status');
      finder.append('Find', input, told);
      input.setAttribute('aria-label', 'Find in ' + table.caption.textContent);
      input.addEventListener('input', () => this.filter(table, input.value, told));
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
      if (row.classList.contains('away')) continue;
      shown += 1;
      row.classList.toggle('rest', !table.dataset.all && shown > this.most && !row.classList.contains('picked'));
    }
  },

  filter(table, words, told) {
    const wanted = words.toLowerCase().split(/\s+/).filter(Boolean);
    let left = 0;
    for (const row of table.tBodies[0].rows) {
      if (row.said === undefined) row.said = row.textContent.toLowerCase();
      const fits = wanted.every((word) => row.said.includes(word));
      row.classList.toggle('away', !fits);
      left += fits ? 1 : 0;
    }
    told.textContent = wanted.length ? Units.number(left, 0) + ' of ' + Units.number(table.tBodies[0].rows.length, 0) + ' rows' : '';
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

  show(row) {
    row.classList.remove('rest', 'away');
  },
};
