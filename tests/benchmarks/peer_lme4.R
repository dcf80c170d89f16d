# Fits the mixed logit of standard input (columns k, n, arm, block, dish) with nine points, and times it.
suppressMessages(library(lme4))
d <- read.csv(file("stdin"))
d$arm <- factor(d$arm); d$block <- factor(d$block)
fit <- function() glmer(cbind(k, n - k) ~ 0 + arm + block + (1 | dish), d, binomial, nAGQ = 9)
m <- fit()
took <- min(sapply(1:3, function(i) system.time(fit())[["elapsed"]]))
cat(sprintf("{\"seconds\": %.6f, \"sd\": %.10f, \"coefficients\": [%s]}\n", took, attr(VarCorr(m)$dish, "stddev"),
            paste(sprintf("%.10f", fixef(m)), collapse = ", ")))
