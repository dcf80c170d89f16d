"""`python tests/earlier`: write down the numbers of new recipes and of new versions of recipes."""

import sys

import numbers_of

if __name__ == "__main__":
    sentences = numbers_of.renew()
    sys.stdout.write("".join(f"{line}\n" for line in sentences) or "Every recipe has its numbers written down.\n")
    raise SystemExit(1 if sentences else 0)
