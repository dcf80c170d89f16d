"""A formula with the numbers put into it, so that somebody can check an answer on paper."""


def shown(symbol, formula, filled, value, unit=""):
    """"V = dose x seed / strength = 200 mg/kg x 0.04 kg / 20 mg/mL = 0.4 mL." as a sentence.

    symbol : what is reckoned.  formula : in words and letters.  filled : the same with numbers and units.  value : the
    answer, told to six digits at most.  unit : of the answer, as it is read.

    >>> shown("m", "c x V", "20 g/L x 0.25 L", 5.0, "g")
    'm = c x V = 20 g/L x 0.25 L = 5 g.'
    """
    return f"{symbol} = {formula} = {filled} = {number(value)}{f' {unit}' if unit else ''}."


def number(value):
    """A number as it is written on paper: four digits, more only where a whole number has them.

    >>> number(0.444444), number(12345.0), number(476.19047)
    ('0.4444', '12345', '476.2')
    """
    value = float(value)
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.4g}"
