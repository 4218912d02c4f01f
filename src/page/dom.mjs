// Elements without markup: text goes in as text, whatever it says.

/// h('button', {class: 'x', onclick: f}, 'words', node, ...)
export function h(name, attributes = {}, ...children) {
  const node = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith('on')) node.addEventListener(key.slice(2), value);
    else if (key === 'value') node.value = value;
    else node.setAttribute(key, value === true ? '' : String(value));
  }
  node.append(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));
  return node;
}

export const $ = (id) => document.getElementById(id);

export const fill = (node, ...children) =>
  node.replaceChildren(...children.flat().filter((child) => child !== null && child !== undefined && child !== false));

/// A labelled field: label above, what goes in, a line of help and a line for what is wrong.
export function field(id, words, control, help) {
  control.id = id;
  if (help) control.setAttribute('aria-describedby', `${id}-help`);
  return h(
    'div',
    {class: 'field'},
    h('label', {for: id}, words),
    control,
    help ? h('p', {class: 'help', id: `${id}-help`}, help) : null,
  );
}

export const choice = (options, value, attributes = {}) => {
  const node = h(
    'select',
    attributes,
    options.map(([key, words]) => h('option', {value: key}, words)),
  );
  node.value = value;
  return node;
};

export function table(caption, heads, rows) {
  return h(
    'div',
    {
      class: 'scroll',
      tabindex: rows.length > 0 && heads.length > 5 ? 0 : null,
      role: heads.length > 5 ? 'region' : null,
      'aria-label': heads.length > 5 ? caption : null,
    },
    h(
      'table',
      {},
      h('caption', {}, caption),
      h(
        'thead',
        {},
        h(
          'tr',
          {},
          heads.map((head) => h('th', {scope: 'col'}, head)),
        ),
      ),
      h(
        'tbody',
        {},
        rows.map((row) =>
          h(
            'tr',
            {},
            row.map((cell, i) => (i === 0 ? h('th', {scope: 'row'}, cell) : h('td', {}, cell))),
          ),
        ),
      ),
    ),
  );
}

const kAllowed = new Set([
  'SECTION',
  'H2',
  'H3',
  'P',
  'UL',
  'OL',
  'LI',
  'TABLE',
  'CAPTION',
  'THEAD',
  'TBODY',
  'TR',
  'TH',
  'TD',
  'I',
  'EM',
  'STRONG',
  'B',
  'CODE',
  'SUP',
  'SUB',
  'DIV',
  'SPAN',
  'DL',
  'DT',
  'DD',
  'BR',
  'FIGURE',
  'FIGCAPTION',
  'FOOTER',
]);
const kClasses = new Set([
  'exceeded',
  'over',
  'value',
  'field',
  'behind',
  'facts',
  'sign',
  'cautions',
  'steps',
  'equation',
  'number',
]);

/// A document that the program wrote as HTML, rebuilt from elements that only show text: no script, style, link, attribute or event comes along.
/// Headings move down one level, for the page has its own above them.
export function shown(html, retext = (words) => words) {
  const source = new DOMParser().parseFromString(html, 'text/html');
  const copy = (node) => {
    if (node.nodeType === Node.TEXT_NODE) return document.createTextNode(retext(node.nodeValue));
    if (node.nodeType !== Node.ELEMENT_NODE) return null;
    const children = () => [...node.childNodes].map(copy).filter(Boolean);
    if (
      node.tagName === 'H1' ||
      ['SCRIPT', 'STYLE', 'TITLE', 'HEAD', 'META', 'LINK', 'SVG', 'IFRAME', 'OBJECT'].includes(
        node.tagName.toUpperCase(),
      )
    )
      return null;
    if (!kAllowed.has(node.tagName)) {
      const out = document.createDocumentFragment();
      out.append(...children());
      return out;
    }
    const out = document.createElement({H2: 'h3', H3: 'h4'}[node.tagName] ?? node.tagName.toLowerCase());
    for (const name of node.classList) if (kClasses.has(name)) out.classList.add(name);
    if (node.tagName === 'TH' && ['col', 'row'].includes(node.getAttribute('scope')))
      out.setAttribute('scope', node.getAttribute('scope'));
    for (const name of ['colspan', 'rowspan'])
      if (/^\d{1,2}$/.test(node.getAttribute(name) ?? '')) out.setAttribute(name, node.getAttribute(name));
    out.append(...children());
    return out;
  };
  const out = document.createDocumentFragment();
  out.append(...[...(source.querySelector('main') ?? source.body).childNodes].map(copy).filter(Boolean));
  return out;
}
