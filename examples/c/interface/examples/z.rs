fn main(){ for j in 0..9 { println!("{j} {}", bolting_monitor_c::bm_monitor_size(j)); }
println!("{} {} {}", size_of::<bolting_monitor::wire::Plan>(), size_of::<bolting_monitor::procedure::BoltJob>(), size_of::<bolting_monitor::curve::BinnedCurve<512>>()); }
