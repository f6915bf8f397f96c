# What the open washes add up to, and the exact 95 % limits of every one of them.
# Writes washes.csv (totals) and washes-rows.csv (one line a wash, in the order of the file).
# Limits: Garwood 1936, Biometrika 28:437-442, by gamma quantiles. Rates are mites per hundred bees.
source("open.R")

total <- function(d, yard, visit) data.frame(
  yard, visit, colonies = length(unique(d$colony)), washes = nrow(d), mites = sum(d$mites), bees = sum(d$bees),
  zeros = sum(d$mites == 0),
  per_hundred = 100 * sum(d$mites) / sum(d$bees),          # all bees pooled
  mean_per_hundred = mean(100 * d$mites / d$bees))         # each colony weighs the same
each <- do.call(rbind, lapply(split(washes, list(washes$yard, washes$visit)),
  function(d) total(d, d$yard[1], as.character(d$visit[1]))))
whole <- rbind(total(washes, "all", "all"),
  do.call(rbind, lapply(levels(washes$visit), function(v) total(washes[washes$visit == v, ], "all", v))))
write_reference("washes.csv", c(attribution, "totals of the open washes; yard and visit 'all' are the whole file",
  "per_hundred pools all bees, mean_per_hundred is the mean of the colonies' own rates"), rbind(whole, each))

garwood <- function(y, n, a) cbind(
  low = ifelse(y == 0, 0, qgamma(a, pmax(y, 1))) / n, high = qgamma(a, y + 1, lower.tail = FALSE) / n)
l <- 100 * garwood(washes$mites, washes$bees, 0.025)
write_reference("washes-rows.csv", c(attribution, "mites per hundred bees of every open wash with its exact 95 % Poisson limits"),
  data.frame(washes[c("colony", "visit", "mites", "bees")],
             per_hundred = 100 * washes$mites / washes$bees, low = l[, "low"], high = l[, "high"]))
