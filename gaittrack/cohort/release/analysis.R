# The main table of this export, made again: mean difference between conditions over people, with
# its 95 % t interval. Run in the folder of the export: Rscript analysis.R
table_of <- function(name) read.csv(paste0(name, ".csv"), na.strings = "", check.names = FALSE)
changes <- table_of("changes")
published <- table_of("statistics")
keys <- c("measure_id", "side_role", "condition_code", "reference_code")
key_of <- function(rows) do.call(paste, c(rows[keys], sep = "|"))

over_people <- function(group) {
  first <- group[group$visit_no == ave(group$visit_no, group$export_id, FUN = min), ]
  compared <- first[!first$verdict %in% c("not_defined", "not_trusted", "not_comparable"), ]
  if (nrow(compared) == 0) return(data.frame(n = 0, mean = NA, from = NA, to = NA))
  own <- tapply(compared$difference, compared$export_id, mean)
  n <- length(own)
  half <- if (n > 1 && sd(own) > 0) qt(0.975, n - 1) * sd(own) / sqrt(n) else NA
  data.frame(n = n, mean = mean(own), from = mean(own) - half, to = mean(own) + half)
}

groups <- split(changes, key_of(changes))
again <- do.call(rbind, lapply(groups, over_people))
print(format(again, digits = 4))

place <- match(key_of(published), rownames(again))
shown <- !is.na(published$mean_difference)
apart <- abs(published$mean_difference - again$mean[place])[shown]
stopifnot(published$n_people[shown] == again$n[place][shown], apart < 1e-9)
cat(sum(shown), "means made again\n")
