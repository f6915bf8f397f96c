# How many bees show at least one mite, and how surely: epiR's functions with imperfect sensitivity. Writes detection.csv.
#   size    n = rsu.sssep.rs(N, pstar, se.p = wanted, se.u), rounded up
#           no N: n = ln(1-wanted) / ln(1 - pstar*se.u), as in Pirk et al. 2013, J Apic Res 52(4)
#           N:    n = N/se.u * (1 - (1-wanted)^(1/d)), d = ceiling(N*pstar)
#   chance  rsu.sep.rs(N, n, pstar, se.u): no N: 1-(1-pstar*se.u)^n; N: 1-(1-se.u*n/N)^d, epiR's own finite-population
#           approximation (it sees the d infested as drawn one by one)
#   exact   the same chance without approximation, base R: 1 - sum over k of hypergeometric(k of d in n) * (1-se.u)^k
suppressMessages(library(epiR))
source("open.R")

exact <- function(N, n, d, se) 1 - sum(dhyper(0:d, d, N - d, n) * (1 - se)^(0:d))
row <- function(task, N, pstar, se, wanted = NA, n = NA) {
  if (task == "size") n <- rsu.sssep.rs(N = N, pstar = pstar, se.p = wanted, se.u = se)
  d <- if (is.na(N)) NA else ceiling(N * pstar)
  ok <- !is.na(n) # NA: not even all N animals give the wanted chance
  data.frame(task, population = N, prevalence = pstar, infested = d, sensitivity = se, wanted, n,
    chance = if (ok) rsu.sep.rs(N = N, n = n, pstar = pstar, se.u = se) else NA,
    exact = if (!ok || is.na(N)) NA else exact(N, n, d, se))
}
rows <- list()
add <- function(...) rows[[length(rows) + 1]] <<- row(...)
for (p in c(0.005, 0.01, 0.02, 0.03, 0.05, 0.1)) {
  for (se in c(0.6, 0.8, 0.9, 1)) {
    for (w in c(0.8, 0.9, 0.95, 0.99)) add("size", NA, p, se, wanted = w)
    for (n in c(20, 30, 100, 300)) add("chance", NA, p, se, n = n)
    for (N in c(1000, 20000)) { add("size", N, p, se, wanted = 0.95); add("chance", N, p, se, n = 300) }
  }
}
for (N in c(10, 20, 40)) for (p in c(0.1, 0.2, 0.5)) for (n in c(4, 8)) for (se in c(0.9, 1)) add("chance", N, p, se, n = n)
write_reference("detection.csv", c("chance of at least one positive among n; empty population means a very large one",
  "size: epiR rsu.sssep.rs; chance: epiR rsu.sep.rs; exact: hypergeometric sum in base R; formulas in detection.R"),
  do.call(rbind, rows), "epiR")
