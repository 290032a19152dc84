// What can be told of a page by its looks. Run beside the page by the tests.
var winterstandLooks = winterstandLooks || new WeakMap();
var winterstandReached = winterstandReached || new WeakSet();

function look(e) {
  const s = getComputedStyle(e);
  return [s.outlineStyle, s.outlineWidth, s.outlineColor, s.boxShadow, s.borderColor, s.borderWidth, s.backgroundColor, s.position, s.left].join('|');
}

// remember the looks of everything that can be reached, while it is not.
function remember() {
  for (const e of document.querySelectorAll('a[href], button, input, select, textarea, summary, [tabindex]')) {
    if (e !== document.activeElement && !winterstandLooks.has(e)) winterstandLooks.set(e, look(e));
  }
  return true;
}

function luminance(color) {
  const v = color.match(/[\d.]+/g).slice(0, 3).map(x => x / 255).map(x => x <= 0.03928 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
  return 0.2126 * v[0] + 0.7152 * v[1] + 0.0722 * v[2];
}

// contrast as WCAG 2.2 defines it.
function contrast(a, b) {
  const [x, y] = [luminance(a), luminance(b)].sort((p, q) => q - p);
  return (x + 0.05) / (y + 0.05);
}

function named(e) {
  return e.tagName.toLowerCase() + (e.id ? '#' + e.id : '') + (e.name ? '[name=' + e.name + ']' : '') + ' ' + (e.textContent || '').trim().slice(0, 40);
}

// focused tells where the focus is and what is wrong with how it shows.
// WCAG 2.2: 2.4.7 visible, 2.4.11 not hidden, 1.4.11 contrast of 3 to 1.
function focused(css) {
  const e = document.activeElement;
  if (!e || e === document.body || e === document.documentElement) return {Nowhere: true, Wrong: []};
  winterstandReached.add(e);
  const s = getComputedStyle(e), r = e.getBoundingClientRect(), wrong = [];
  if (winterstandLooks.get(e) === look(e)) wrong.push('looks as without focus: ' + look(e));
  if (s.outlineStyle === 'none' || parseFloat(s.outlineWidth) < 2) wrong.push('no outline of 2 px: ' + s.outline);
  const c = contrast(s.outlineColor, getComputedStyle(document.body).backgroundColor);
  if (c < 3) wrong.push('outline has a contrast of only ' + c.toFixed(1));
  if (r.bottom <= 0 || r.top >= innerHeight || r.right <= 0 || r.left >= innerWidth) wrong.push('outside the window');
  return {What: named(e), There: e.matches(css), Wrong: wrong};
}

function drawn(e) {
  return !!e.closest('svg');
}

function seen(e) {
  const r = e.getBoundingClientRect();
  return r.width > 0 && r.height > 0 && r.right > 0 && getComputedStyle(e).visibility !== 'hidden';
}

// small lists the text below so many pixels, except in pictures.
function small(px) {
  const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const e = walk.currentNode.parentElement;
    if (!walk.currentNode.textContent.trim() || drawn(e) || !seen(e)) continue;
    const size = parseFloat(getComputedStyle(e).fontSize);
    if (size < px) out.push(size + ' px: ' + named(e));
  }
  return out;
}

// flat lists what a finger in a glove would miss. A box to tick is pressed by its label too.
function flat(px) {
  const out = [];
  for (const e of document.querySelectorAll('button, .go, select, textarea, summary, input:not([type=hidden])')) {
    if (!seen(e)) continue;
    const label = e.type === 'checkbox' && e.labels.length ? e.labels[0] : e;
    const high = Math.max(e.getBoundingClientRect().height, label.getBoundingClientRect().height);
    if (high < px) out.push(high.toFixed(1) + ' px: ' + named(e));
    const s = getComputedStyle(e);
    if (e.matches('button, .go') && s.borderTopColor !== 'rgba(0, 0, 0, 0)' && parseFloat(s.paddingLeft) < 6) out.push('text on its border: ' + named(e));
  }
  return out;
}

// wider names what reaches beyond the window's right edge, unless it scrolls by itself.
function wider() {
  const out = [], over = document.documentElement.scrollWidth - document.documentElement.clientWidth;
  if (over <= 0) return out;
  for (const e of document.body.querySelectorAll('*')) {
    if (!drawn(e) && !e.closest('.wide') && e.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5) out.push(named(e));
  }
  return ['by ' + over + ' px: ' + out.slice(-3).join('; ')];
}

// leads lists where a page leads to on this site.
function leads() {
  return [...new Set([...document.querySelectorAll('a[href]')].filter(a => a.origin === location.origin).map(a => a.pathname + a.search))];
}

// lines are the boxes of all text and of all buttons, as they stand on the page.
function lines() {
  const out = [], walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), range = document.createRange();
  while (walk.nextNode()) {
    const n = walk.currentNode;
    if (!n.textContent.trim() || !seen(n.parentElement) || !n.parentElement.checkVisibility()) continue;
    range.selectNodeContents(n);
    for (const r of range.getClientRects()) {
      const lap = r.height / 5; // lines stand closer than their boxes are high
      if (r.width > 0 && r.right > 0) out.push({of: n.parentElement, text: n.textContent.trim(), top: r.top + lap, bottom: r.bottom - lap, left: r.left, right: r.right});
    }
  }
  for (const e of document.querySelectorAll('button, .go, input:not([type=hidden]), select, textarea')) {
    const r = e.getBoundingClientRect();
    if (seen(e) && e.checkVisibility()) out.push({of: e, text: named(e), top: r.top, bottom: r.bottom, left: r.left, right: r.right});
  }
  return out;
}

// overlaps names what stands on top of something else. A drawing may do so.
function overlaps() {
  const all = lines().sort((a, b) => a.top - b.top), out = [];
  for (let i = 0; i < all.length; i++) {
    const a = all[i];
    for (let j = i + 1; j < all.length && all[j].top < a.bottom - 2; j++) {
      const b = all[j];
      if (Math.min(a.right, b.right) - Math.max(a.left, b.left) <= 2 || a.of === b.of || a.of.contains(b.of) || b.of.contains(a.of) || drawn(a.of)) continue;
      out.push(a.text.slice(0, 40) + ' / ' + b.text.slice(0, 40));
    }
  }
  return out.slice(0, 5);
}

function reachable(e) {
  return seen(e) && e.checkVisibility() && !e.disabled && e.tabIndex >= 0;
}

// unreached are those that a keyboard should have come by and has not.
function unreached() {
  return [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex]')]
    .filter(e => reachable(e) && !winterstandReached.has(e)).map(named);
}
