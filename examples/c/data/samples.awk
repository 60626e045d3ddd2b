# From a recording of a seven-joint arm with velocities (CSV, columns in the order in which
# `bolting-host simulate` writes them) to the rows of a C table. A figure is rounded to f64 first and
# to f32 then, as the host's reader does.
BEGIN { FS = "," }
NR == 1 {
    if ($1 != "time_s" || $2 != "q1" || $9 != "dq1" || $16 != "tau1" || NF != 22) {
        print "samples.awk: not the columns time_s,q1..q7,dq1..dq7,tau1..tau7" > "/dev/stderr"
        exit 1
    }
    next
}
function group(from,    i, text) {
    for (i = from; i < from + 7; i++) text = text "(float)" $i ", "
    return "{" text "}"
}
{ printf "{%.0f, %s, %s, %s},\n", $1 * 1e6, group(2), group(9), group(16) }
