"""The controls all pages share: a slider, a number field, a choice, an answer, one live chart."""
