# Exact Poisson limits of every row, as R does it: vectorised qgamma. interval.R IN OUT
a <- commandArgs(TRUE)
d <- read.csv(a[1])
d$low <- ifelse(d$mites == 0, 0, qgamma(0.025, d$mites)) / d$bees * 100
d$high <- qgamma(0.975, d$mites + 1) / d$bees * 100
write.csv(d, a[2], row.names = FALSE, quote = FALSE)
