"""Check digits of identifiers. Each function says what is wrong as the end of a sentence, "" if nothing is.

A text that has not even the shape of its identifier is not judged here: the pattern in the schema does that.
"""

import re

_CAS = re.compile(r"(\d{2,7})-(\d\d)-(\d)", re.ASCII)
_ORCID = re.compile(r"(?:https://orcid\.org/)?(\d{4}-\d{4}-\d{4}-\d{3}[\dX])", re.ASCII)
_ROR = re.compile(r"(?:https://ror\.org/)?(0[a-hj-km-np-tv-z0-9]{6})(\d\d)", re.ASCII)
_CROCKFORD = "0123456789abcdefghjkmnpqrstvwxyz"


def cas(text):
    """What is wrong with a CAS registry number.

    Source: the registry's published rule: digits weighted 1, 2, 3 ... from the right, check digit apart, modulo 10.

    >>> cas("7664-93-9"), cas("7664-93-8")
    ('', 'is no CAS number: its last digit should be 9')
    """
    found = _CAS.fullmatch(text)
    if not found:
        return ""
    digits = reversed(found.group(1) + found.group(2))
    last = sum(weight * int(digit) for weight, digit in enumerate(digits, 1)) % 10
    return "" if last == int(found.group(3)) else f"is no CAS number: its last digit should be {last}"


def orcid(text):
    """What is wrong with an ORCID iD, bare or as its address.

    Source: ISO/IEC 7064:2003, MOD 11-2.

    >>> orcid("0000-0002-1825-0097"), orcid("0000-0002-1825-0079")
    ('', 'is no ORCID iD: its last character should be 0')
    """
    found = _ORCID.fullmatch(text)
    if not found:
        return ""
    *digits, last = found.group(1).replace("-", "")
    total = 0
    for digit in digits:
        total = (total + int(digit)) * 2 % 11
    wanted = "0123456789X"[(12 - total) % 11]
    return "" if last == wanted else f"is no ORCID iD: its last character should be {wanted}"


def ror(text):
    """What is wrong with a ROR id, bare or as its address.

    Source: ISO/IEC 7064:2003, MOD 97-10, over the seven characters as a base 32 number (Crockford's alphabet).

    >>> ror("https://ror.org/05dxps055"), ror("05dxps056")
    ('', 'is no ROR id: its last two digits should be 55')
    """
    found = _ROR.fullmatch(text)
    if not found:
        return ""
    number = 0
    for character in found.group(1):
        number = number * 32 + _CROCKFORD.index(character)
    wanted = 98 - number * 100 % 97
    return "" if int(found.group(2)) == wanted else f"is no ROR id: its last two digits should be {wanted:02d}"


IDENTIFIERS = {"cas": cas, "orcid": orcid, "ror": ror}
