// The dialog that saves a picture: what it shows, what it rests on, in which form and width.
import {$} from './dom.mjs';
import {unit} from './words.mjs';
import {drawMap} from './map.mjs';
import {pictureOf} from './first.mjs';
import {printed, svgText, pngOf, saveText, saveBlob, fileName} from './export.mjs';
import {say} from './strip.mjs';

let saving = null;
function captionOf(app, kind) {
  const e = app.estimate,
    c = app.document,
    setting = `${c.solution?.polymer ?? ''} in ${c.solution?.solvent ?? ''}, ${c.solution?.concentration ?? ''}; ${c.operation?.rotation_speed ?? ''}, ${c.operation?.gas_overpressure ?? ''}`;
  const what =
    kind === 'map'
      ? $('map-words').textContent.replace(/ Ring:.*/, ' Ring: the setting of the case.')
      : $('picture-words').textContent;
  return `${what} ${unit(setting)}. ${e.program} ${e.version}, case ${app.name.slice(0, 60)} ${e.case_sha256.slice(0, 12)}, ${kind === 'map' || !app.confirmed ? 'without' : 'with'} tension along the jet.`;
}

export function wireSaving(app) {
  for (const button of document.querySelectorAll('.save-picture'))
    button.addEventListener('click', () => {
      const kind = button.dataset.picture;
      if (!app.estimate || app.refused) {
        say('There is no picture to save yet.');
        return;
      }
      const one =
        kind === 'map'
          ? {
              draw: (colours) =>
                drawMap(
                  {
                    axes: app.axes,
                    cells: app.cells,
                    wanted: app.mapWanted(),
                    own: {x: app.axes.x.own, y: app.axes.y.own},
                  },
                  colours,
                  620,
                  400,
                ),
            }
          : {draw: (colours) => pictureOf(app, app.picture).draw(colours, 420)};
      saving = {draw: one.draw, caption: captionOf(app, kind), name: kind === 'map' ? 'map' : app.picture};
      $('save-caption').textContent = saving.caption;
      $('save-dialog').showModal();
    });
  $('save-dialog').addEventListener('click', async (event) => {
    const how = event.target.dataset?.save;
    if (!how || !saving) return;
    const [type, width] = how.split('-'),
      svg = printed(saving.draw, saving.caption, Number(width)),
      name = fileName(app.name, `${saving.name}-${width}mm.${type}`);
    if (type === 'svg') saveText(name, svgText(svg), 'image/svg+xml');
    else saveBlob(name, await pngOf(svg, Number(width)));
    $('save-dialog').close();
  });
}
