'use strict';
// Copy buttons, and the map that answers with path and profile of the point picked on it. No connection, no storage.
(() => {
  const status = document.getElementById('status');

  // ---- tables to the clipboard, as text with tabs
  const cellText = (cell) => {
    const text = (cell.dataset.copy ?? cell.textContent).replace(/[\t\r\n]+/g, ' ').trim();
    // Text that a spreadsheet would run as a formula; numbers keep their sign.
    return !cell.classList.contains('number') && /^[=+\-@]/.test(text) ? "'" + text : text;
  };
  const tableText = (table) => [...table.rows].map((row) => [...row.cells].map(cellText).join('\t')).join('\n') + '\n';
  const copy = async (text) => {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      const area = document.createElement('textarea');
      area.value = text;
      area.setAttribute('aria-hidden', 'true');
      area.className = 'away';
      document.body.append(area);
      area.select();
      const done = document.execCommand('copy');
      area.remove();
      return done;
    }
  };
  for (const button of document.querySelectorAll('button.copy')) {
    button.addEventListener('click', async () => {
      const done = await copy(tableText(document.getElementById(button.dataset.table)));
      button.textContent = done ? 'Copied' : 'Select and copy by hand';
      status.textContent = done ? 'Table copied' : 'The browser does not let this page copy';
      button.focus();
      setTimeout(() => { button.textContent = 'Copy'; }, 2000);
    });
  }

  // ---- map, path and profile
  const explorer = document.getElementById('explorer');
  if (!explorer) return;
  const data = JSON.parse(document.getElementById('explorer-data').textContent);
  const SVG = 'http://www.w3.org/2000/svg';
  const make = (name, attributes = {}) => {
    const element = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
    return element;
  };
  // The axes of a frame, from the attributes it was drawn with.
  const scale = (frame, axis) => {
    const get = (name) => frame.getAttribute(`data-${axis}-${name}`);
    const [low, high, start, end] = ['low', 'high', 'start', 'end'].map((name) => Number(get(name)));
    const log = get('scale') === 'log';
    return (value) => {
      if (log && !(value > 0)) return NaN;
      const share = log ? Math.log(value / low) / Math.log(high / low) : (value - low) / (high - low);
      return start + share * (end - start);
    };
  };
  const linePath = (xs, ys, px, py) => {
    let path = '';
    let down = false;
    for (let i = 0; i < xs.length; i++) {
      const x = px(xs[i]);
      const y = py(ys[i]);
      if (ys[i] === null || !Number.isFinite(x) || !Number.isFinite(y)) { down = false; continue; }
      path += (down ? 'L' : 'M') + x.toFixed(2) + ' ' + y.toFixed(2);
      down = true;
    }
    return path;
  };
  const [mapFigure, pathFigure, profileFigure] = explorer.querySelectorAll('figure');
  const mapSvg = mapFigure.querySelector('svg');
  const mapFrame = mapSvg.querySelector('.frame');
  const px = scale(mapFrame, 'x');
  const py = scale(mapFrame, 'y');
  const columns = data.x.values.length;
  const rows = data.y.values.length;

  // Cells reach half-way to their neighbours.
  const edges = (values, place, first, last) => values.map((value, i) => [
    i === 0 ? first : (place(values[i - 1]) + place(value)) / 2,
    i === values.length - 1 ? last : (place(value) + place(values[i + 1])) / 2]);
  const xEdges = edges(data.x.values, px, Number(mapFrame.getAttribute('data-x-start')), Number(mapFrame.getAttribute('data-x-end')));
  const yEdges = edges(data.y.values, py, Number(mapFrame.getAttribute('data-y-start')), Number(mapFrame.getAttribute('data-y-end')));

  const number = (value, digits = 3) => Number(value.toPrecision(digits)).toLocaleString('en', { maximumSignificantDigits: digits, useGrouping: false });
  const setting = (axis, value) => `${number(value, 5)} ${axis.unit}`.trim();
  const summary = (point) => {
    const lines = [[data.x.name, setting(data.x, point.x)], [data.y.name, setting(data.y, point.y)], ['Class', point.class]];
    data.results.forEach((result, i) => {
      const value = point.results[i];
      if (value !== null) lines.push([result.name, `${number(value)}${result.unit ? ' ' + result.unit : ''}`]);
    });
    return lines;
  };
  const label = (point) => `${setting(data.x, point.x)}, ${setting(data.y, point.y)}: ${point.class}` +
    (point.results[0] === null ? '' : `, ${number(point.results[0])} ${data.results[0].unit}`);

  // The grid over the map: one cell for each computed point, one of them in the tab order.
  const overlay = make('svg', { viewBox: mapSvg.getAttribute('viewBox'), role: 'grid', 'aria-label': `${data.x.name} across, ${data.y.name} upwards. Arrow keys move, Enter picks.` });
  const cells = new Array(columns * rows);
  for (let r = rows - 1; r >= 0; r--) {
    const row = make('g', { role: 'row' });
    for (let c = 0; c < columns; c++) {
      const i = r * columns + c;
      const [left, right] = xEdges[c];
      const [bottom, top] = yEdges[r];
      const cell = make('rect', { role: 'gridcell', class: 'cell', tabindex: -1, 'aria-selected': 'false', 'aria-label': label(data.points[i]),
        x: left + 1, y: top + 1, width: right - left - 2, height: bottom - top - 2, 'data-index': i });
      cells[i] = cell;
      row.append(cell);
    }
    overlay.append(row);
  }
  const stack = mapFigure.querySelector('.stack');
  stack.append(overlay);
  const tip = document.createElement('div');
  tip.id = 'tip';
  tip.hidden = true;
  tip.setAttribute('aria-hidden', 'true');
  stack.append(tip);

  const line = (svg, index) => svg.querySelectorAll(`.series[data-series="${index}"]`);
  const pathFrame = pathFigure.querySelector('.frame');
  const pathX = scale(pathFrame, 'x');
  const pathY = scale(pathFrame, 'y');
  const pathLine = line(pathFigure, 1)[0];
  const panels = [...profileFigure.querySelectorAll('.frame')].map((frame) => ({
    x: scale(frame, 'x'), y: scale(frame, 'y'), column: frame.getAttribute('data-y'), line: frame.querySelector('.series[data-series="1"]') }));

  const showTip = (i) => {
    const point = data.points[i];
    const lines = [`${setting(data.x, point.x)}, ${setting(data.y, point.y)}`, ...summary(point).slice(2, 5).map(([name, value]) => `${name}: ${value}`)];
    tip.replaceChildren(...lines.map((text) => {
      const row = document.createElement('div');
      row.textContent = text;
      return row;
    }));
    tip.hidden = false;
    const box = cells[i].getBoundingClientRect();
    const whole = stack.getBoundingClientRect();
    const left = box.left + box.width / 2 - whole.left - tip.offsetWidth / 2;
    tip.style.left = `${Math.max(0, Math.min(left, whole.width - tip.offsetWidth))}px`;
    const above = box.top - whole.top - tip.offsetHeight - 4;
    tip.style.top = `${above >= 0 ? above : box.bottom - whole.top + 4}px`;
  };
  const hideTip = () => { tip.hidden = true; };

  const picked = document.getElementById('picked');
  let current = data.nearest;
  const pick = (i) => {
    for (const cell of cells) cell.setAttribute('aria-selected', 'false');
    cells[i].setAttribute('aria-selected', 'true');
    const point = data.points[i];
    const list = document.createElement('dl');
    for (const [name, value] of summary(point)) {
      const term = document.createElement('dt');
      term.textContent = name;
      const text = document.createElement('dd');
      text.textContent = value;
      list.append(term, text);
    }
    const note = document.createElement('p');
    note.textContent = point.jet ? `The jet ${point.jet.reason}.` : `No jet to draw: ${point.reason}.`;
    picked.replaceChildren(list, note);
    pathLine.setAttribute('d', point.jet ? linePath(point.jet.path_x, point.jet.path_y, pathX, pathY) : 'M0 0');
    for (const panel of panels) panel.line.setAttribute('d', point.jet ? linePath(point.jet.profile[data.profile_x], point.jet.profile[panel.column], panel.x, panel.y) || 'M0 0' : 'M0 0');
    explorer.dataset.picked = i;
  };
  const focus = (i) => {
    cells[current].setAttribute('tabindex', '-1');
    current = i;
    cells[i].setAttribute('tabindex', '0');
    cells[i].focus();
  };
  cells[current].setAttribute('tabindex', '0');
  for (const [i, cell] of cells.entries()) {
    cell.addEventListener('pointerenter', () => showTip(i));
    cell.addEventListener('pointerleave', hideTip);
    cell.addEventListener('focus', () => showTip(i));
    cell.addEventListener('blur', hideTip);
    cell.addEventListener('click', () => { focus(i); pick(i); });
  }
  overlay.addEventListener('keydown', (event) => {
    if (event.altKey || event.metaKey || event.ctrlKey) return;
    const c = current % columns;
    const r = Math.floor(current / columns);
    const to = (column, row) => Math.max(0, Math.min(columns - 1, column)) + columns * Math.max(0, Math.min(rows - 1, row));
    const moves = { ArrowRight: to(c + 1, r), ArrowLeft: to(c - 1, r), ArrowUp: to(c, r + 1), ArrowDown: to(c, r - 1),
      Home: to(0, r), End: to(columns - 1, r), PageUp: to(c, rows - 1), PageDown: to(c, 0) };
    if (event.key in moves) {
      event.preventDefault();
      focus(moves[event.key]);
    } else if (event.key === 'Enter' || event.key === ' ') {
      event.preventDefault();
      pick(current);
    } else if (event.key === 'Escape') {
      hideTip();
    }
  });
  pick(data.nearest);
  explorer.dataset.ready = 'yes';
})();
