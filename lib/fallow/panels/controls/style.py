"""One style sheet for every control; colours follow JupyterLab's theme, so both themes stay readable."""

CSS = """
.fallow-field { display: flex; flex-direction: column; gap: 2px; margin: 4px 0; padding: 0 5px; font-family: var(--jp-ui-font-family);
  font-size: 14px; color: var(--jp-ui-font-color1, #22303c); min-width: 0; max-width: 320px; }
.fallow-field.fallow-press { max-width: 860px; }
.fallow-field label { font-weight: 600; }
.fallow-field output { font-variant-numeric: tabular-nums; }
.fallow-field .fallow-row { display: flex; gap: 10px; align-items: center; }
.fallow-field input[type=range] { flex: 1 1 auto; min-width: 110px; height: 24px; accent-color: #00736b; }
[data-jp-theme-light="false"] .fallow-field input[type=range] { accent-color: #58bdb3; }
.fallow-field input[type=text], .fallow-field select, .fallow-field textarea, .fallow-field button { font: inherit;
  padding: 4px 8px; min-height: 32px; color: inherit; background: var(--jp-layout-color1, #fff);
  border: 1px solid var(--jp-border-color0, #7a8793); border-radius: 4px; }
.fallow-field button { align-self: flex-start; margin-right: 8px; cursor: pointer; font-weight: 600; }
.fallow-field [aria-invalid=true] { border-color: var(--jp-error-color0, #a3261b); border-width: 2px; }
.fallow-field :focus-visible, .fallow-field button:focus-visible { outline: 3px solid #00736b; outline-offset: 2px; }
[data-jp-theme-light="false"] .fallow-field :focus-visible { outline-color: #58bdb3; }
.fallow-message { color: var(--jp-error-color0, #a3261b); font-weight: 600; }
.fallow-message:empty, .fallow-said:empty { display: none; }
.fallow-answer { font-family: var(--jp-ui-font-family); font-size: 18px; line-height: 1.4; font-weight: 600;
  color: var(--jp-ui-font-color1, #22303c); max-width: 46em; min-height: 1.4em; }
.fallow-answer.fallow-message { color: var(--jp-error-color0, #a3261b); }
.fallow-note { font-family: var(--jp-ui-font-family); font-size: 14px; line-height: 1.45; max-width: 56em;
  color: var(--jp-ui-font-color1, #22303c); }
.fallow-note, .fallow-answer, .fallow-message { overflow-wrap: break-word; }
.fallow-note table { border-collapse: collapse; margin: 4px 0; font-variant-numeric: tabular-nums; }
.fallow-note th, .fallow-note td { text-align: left; padding: 3px 14px 3px 0;
  border-bottom: 1px solid var(--jp-border-color2, #d0d7de); }
.fallow-chart { max-width: 860px; background: #fff; border-radius: 4px; }
.fallow-chart.vega-embed { display: block; width: 100%; padding: 0; }
.fallow-chart svg { width: 100%; height: auto; display: block; }
"""
