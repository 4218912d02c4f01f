// Pictures leave the page as SVG or PNG, 85 or 175 mm wide, on white, with a caption that says what they show and what they rest on.
import {el, kLight} from './svg.mjs';

const kMillimetre = 96 / 25.4;
const kDots = 300 / 96; // of a PNG for each CSS pixel: 300 dots per inch

export function saveText(name, words, type) {
  saveBlob(name, new Blob([words], {type}));
}

export function saveBlob(name, blob) {
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(link.href), 10000);
}

/// A name for files of the case: letters, digits and dashes of its own name.
export const fileName = (caseName, what) =>
  `${
    caseName
      .replace(/\.json$/, '')
      .replace(/[^A-Za-z0-9_-]+/g, '-')
      .slice(0, 60) || 'case'
  }-${what}`;

function folded(words, most) {
  const lines = [''];
  for (const word of words.split(/\s+/)) {
    if (lines.at(-1) && (lines.at(-1) + ' ' + word).length > most) lines.push('');
    lines[lines.length - 1] += (lines.at(-1) ? ' ' : '') + word;
  }
  return lines;
}

/// The picture as it is printed: drawn anew in print colours by `draw(colours)`, with the caption below it.
export function printed(draw, caption, millimetres) {
  const inner = draw(kLight),
    wide = Number(inner.getAttribute('width')),
    high = Number(inner.getAttribute('height'));
  const scale = millimetres / 85 > 1.5 ? 1 : Math.min(1, wide / 520),
    fontSize = Math.max(9, Math.round(wide / 46)) * (scale < 1 ? 1.2 : 1);
  const lines = folded(caption, Math.floor(wide / (fontSize * 0.52))),
    height = high + 10 + lines.length * fontSize * 1.35 + 6;
  const svg = el(
    'svg',
    {
      xmlns: 'http://www.w3.org/2000/svg',
      width: `${millimetres}mm`,
      height: `${((millimetres * height) / wide).toFixed(2)}mm`,
      viewBox: `0 0 ${wide} ${height}`,
      'font-family': '"Liberation Sans", Arial, Helvetica, sans-serif',
    },
    el('title', {}, inner.getAttribute('aria-label') ?? ''),
    el('desc', {}, caption),
    el('rect', {width: wide, height, fill: kLight.paper}),
  );
  inner.removeAttribute('role');
  inner.setAttribute('font-family', '"Liberation Sans", Arial, Helvetica, sans-serif');
  inner.setAttribute('x', 0);
  inner.setAttribute('y', 0);
  svg.append(
    inner,
    ...lines.map((line, i) =>
      el(
        'text',
        {x: 4, y: high + 14 + (i + 1) * fontSize * 1.35 - fontSize * 0.35, 'font-size': fontSize, fill: kLight.ink},
        line,
      ),
    ),
  );
  return svg;
}

export const svgText = (svg) =>
  `<?xml version="1.0" encoding="UTF-8"?>\n${new XMLSerializer().serializeToString(svg)}\n`;

export async function pngOf(svg, millimetres) {
  const box = svg.getAttribute('viewBox').split(' ').map(Number),
    wide = Math.round(millimetres * kMillimetre * kDots),
    high = Math.round((wide * box[3]) / box[2]);
  const image = new Image();
  image.src = 'data:image/svg+xml;charset=utf-8,' + encodeURIComponent(new XMLSerializer().serializeToString(svg));
  await image.decode();
  const canvas = document.createElement('canvas');
  canvas.width = wide;
  canvas.height = high;
  canvas.getContext('2d').drawImage(image, 0, 0, wide, high);
  return new Promise((resolve) => canvas.toBlob(resolve, 'image/png'));
}
