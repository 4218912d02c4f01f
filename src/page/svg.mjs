// Pictures are SVG elements with every colour and size in attributes, so that the same drawing is shown, saved and printed.

const kSpace = 'http://www.w3.org/2000/svg';

/// el('rect', {x: 0}, child, 'text', ...): text goes in as text, whatever it says.
export function el(name, attributes = {}, ...children) {
  const node = document.createElementNS(kSpace, name);
  for (const [key, value] of Object.entries(attributes))
    if (value !== undefined && value !== null) node.setAttribute(key, String(value));
  for (const child of children.flat()) if (child !== null && child !== undefined) node.append(child);
  return node;
}

export const kLight = {
  name: 'light',
  paper: '#ffffff',
  ink: '#1d2430',
  soft: '#566070',
  line: '#c9cdd3',
  faint: '#eceef1',
  meets: '#1f7a6d',
  other: '#b97a10',
  none: '#a8402f',
  band: '#3b5f9e',
  second: '#8a6bb1',
  liquid: '#4f86c6',
  metal: '#8b9199',
  onMeets: '#ffffff',
  zone: '#d8ece8',
};
export const kDark = {
  name: 'dark',
  paper: '#181c22',
  ink: '#e8eaee',
  soft: '#a9b1bd',
  line: '#454d59',
  faint: '#262c35',
  meets: '#46b3a2',
  other: '#d9a441',
  none: '#e07b68',
  band: '#86aef2',
  second: '#c0a3e6',
  liquid: '#6ea6e6',
  metal: '#8b93a0',
  onMeets: '#101418',
  zone: '#1d3b37',
};

const channels = (hex) => [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16) / 255);
const luminance = (rgb) => {
  const [r, g, b] = rgb.map((c) => (c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
};

/// The colour that reads better (contrast as in WCAG 2) on `fill` laid over `ground` at an opacity.
export function readable(fill, ground, opacity, choices) {
  const under = channels(ground),
    on = luminance(channels(fill).map((c, i) => opacity * c + (1 - opacity) * under[i]));
  const contrast = (colour) => {
    const own = luminance(channels(colour));
    return (Math.max(own, on) + 0.05) / (Math.min(own, on) + 0.05);
  };
  return choices.reduce((best, each) => (contrast(each) > contrast(best) ? each : best));
}

const dark = window.matchMedia('(prefers-color-scheme: dark)');
export const palette = () => (dark.matches ? kDark : kLight);
export const onPalette = (change) => dark.addEventListener('change', change);

export function picture(width, height, label, ...children) {
  const title = el('title', {}, label);
  return el(
    'svg',
    {
      viewBox: `0 0 ${width} ${height}`,
      width,
      height,
      role: 'img',
      'aria-label': label,
      'font-family': 'system-ui, "Liberation Sans", Arial, sans-serif',
      'font-size': 13,
    },
    title,
    ...children,
  );
}

export const text = (x, y, words, attributes = {}) => el('text', {x, y, ...attributes}, words);

/// "M1 2L3 4", with two decimals.
export const path = (points) => points.map(([x, y], i) => `${i ? 'L' : 'M'}${x.toFixed(2)} ${y.toFixed(2)}`).join('');

/// Marks of a logarithmic axis between two values: {value, major}.
export function logMarks(low, high) {
  const marks = [];
  for (let k = Math.floor(Math.log10(low)) - 1; k <= Math.ceil(Math.log10(high)); ++k)
    for (let m = 1; m < 10; ++m) {
      const value = m * 10 ** k;
      if (value >= low * 0.9999 && value <= high * 1.0001)
        marks.push({value: Number(value.toPrecision(3)), major: m === 1 || m === 2 || m === 5});
    }
  return marks;
}
