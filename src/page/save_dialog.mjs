// Asks in which form and width a picture is saved, says what it shows and what it rests on, and saves it.
import {$, h} from './dom.mjs';
import {unit} from './words.mjs';
import {printed, svgText, pngOf, saveText, saveBlob, fileName} from './export.mjs';
import {say} from './strip.mjs';

let saving = null;

function captionOf(app, {words, quick}) {
  const e = app.estimate,
    c = app.document,
    setting = `${c.solution?.polymer ?? ''} in ${c.solution?.solvent ?? ''}, ${c.solution?.concentration ?? ''}; ${c.operation?.rotation_speed ?? ''}, ${c.operation?.gas_overpressure ?? ''}`;
  return `${words} ${unit(setting)}. ${e.program} ${e.version}, case ${app.name.slice(0, 60)} ${e.case_sha256.slice(0, 12)}, ${quick || !app.confirmed ? 'without' : 'with'} tension along the jet.`;
}

/// one: {draw(colours), words, name, quick: computed without tension whatever the case says}
export function offerPicture(app, one) {
  if (!app.estimate || app.refused || !one) {
    say('There is no picture to save yet.');
    return;
  }
  saving = {draw: one.draw, caption: captionOf(app, one), name: one.name, app};
  $('save-caption').textContent = saving.caption;
  $('save-dialog').showModal();
}

/// `what` completes "Save picture of ..."; `make` is asked for the picture when the button is pressed.
export const saveButton = (app, what, make) =>
  h(
    'button',
    {
      type: 'button',
      class: 'plain save-one',
      'aria-label': `Save picture of ${what}`,
      onclick: () => offerPicture(app, make()),
    },
    'Save picture',
  );

export function wireDialog() {
  $('save-dialog').addEventListener('click', async (event) => {
    const how = event.target.dataset?.save;
    if (!how || !saving) return;
    const [type, width] = how.split('-'),
      svg = printed(saving.draw, saving.caption, Number(width)),
      name = fileName(saving.app.name, `${saving.name}-${width}mm.${type}`);
    if (type === 'svg') saveText(name, svgText(svg), 'image/svg+xml');
    else saveBlob(name, await pngOf(svg, Number(width)));
    $('save-dialog').close();
  });
}
