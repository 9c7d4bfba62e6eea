// Lengths: one function writes every length of the page in the unit that is chosen.
const Units = {
  now: 'mm',
  words: { mm: 'mm', m: 'm', ft: 'ft-in' },

  number(value, digits) {
    const text = value.toLocaleString('en-US', { minimumFractionDigits: digits, maximumFractionDigits: digits });
    return /^-0(\.0*)?$/.test(text) ? text.slice(1) : text;
  },

  // Sixteenths are whole, halves go up, as the cut list writes them.
  feetInches(mm) {
    const all = Math.floor(Math.abs(mm) / 25.4 * 16 + 0.5 + 1e-6);
    const feet = Math.floor(all / 192), inches = Math.floor((all % 192) / 16);
    let top = all % 16, bottom = 16;
    while (top && top % 2 === 0) { top /= 2; bottom /= 2; }
    return (mm < 0 && all ? '-' : '') + feet + "'-" + inches + (top ? ' ' + top + '/' + bottom : '') + '"';
  },

  // digits: decimals in mm; kind holds 'l' for a long length, 'b' where the unit stands elsewhere, 'c' for a cut.
  text(mm, digits = 0, kind = '') {
    const bare = kind.includes('b');
    if (kind.includes('l')) {
      if (this.now === 'ft') return this.number(mm / 304.8, digits) + (bare ? '' : ' ft');
      return this.number(mm / 1000, digits) + (bare ? '' : ' m');
    }
    if (this.now === 'm') return this.number(mm / 1000, 3) + (bare ? '' : ' m');
    if (this.now === 'ft') {
      const fine = digits > 0 && !kind.includes('c') && Math.abs(mm) < 304.8;
      return fine ? this.number(mm / 25.4, 2) + '"' : this.feetInches(mm);
    }
    return this.number(mm, digits) + (bare ? '' : ' mm');
  },

  choose(unit) {
    this.now = this.words[unit] ? unit : 'mm';
    document.documentElement.dataset.units = this.now;
    for (const span of document.querySelectorAll('.len')) {
      span.textContent = this.text(Number(span.dataset.mm), Number(span.dataset.d || 0), span.dataset.k || '');
    }
    // 1 mm per m is 0.12 in. in 10 ft.
    for (const span of document.querySelectorAll('.slope')) {
      const bare = span.dataset.bare !== undefined, slope = Number(span.dataset.v);
      span.textContent = this.now === 'ft' ? this.number(slope * 0.12, 2) + (bare ? '' : ' in. per 10 ft') : slope + (bare ? '' : ' mm per m');
    }
    for (const span of document.querySelectorAll('.slope-unit')) span.textContent = this.now === 'ft' ? 'in. per 10 ft' : 'mm per m';
    for (const span of document.querySelectorAll('.unit')) span.textContent = this.words[this.now];
  },
};
