package bookstest

import "setscrew/domain"

// forgetCases are about people who want to be forgotten.
var forgetCases = []Case{
	{"who is forgotten is one former member", "their reports go on counting, and are nobody's who can be named",
		func(shop *shop) {
			machine := shop.planer("Marble")
			first := shop.tell(2, machine, domain.Hours{Seconds: 60})
			second := shop.tell(3, machine, domain.Hours{Seconds: 60})
			lock := shop.tell(4, machine, domain.TagOut{Reason: domain.Reason{Code: domain.LockOn, Text: "knives"}})
			said, err := shop.Forgettable(shop.ctx, "ada", after(5))
			shop.fails("ask what would go", err)
			if len(said.Kept) != 1 || said.Kept[0].For != domain.KeptLock || said.Kept[0].Fact != lock.Fact.No {
				shop.Errorf("stays: %+v", said.Kept)
			}
			done, err := shop.Forget(shop.ctx, "ada", "ada", "", "press", after(5))
			shop.fails("forget", err)
			if done.Reports != said.Reports-1 || len(done.Kept) != 1 {
				shop.Errorf("said %+v, done %+v", said, done)
			}
			whose := func(no domain.FactNo) domain.PersonID {
				fact, err := shop.Fact(shop.ctx, no)
				shop.fails("find a report", err)
				return fact.By
			}
			former := whose(first.Fact.No)
			if !former.Former() || whose(second.Fact.No) != former || whose(lock.Fact.No) != "ada" {
				shop.Errorf("by %q, %q and %q", former, whose(second.Fact.No), whose(lock.Fact.No))
			}
			// What they report later is theirs.
			back := shop.tell(6, machine, domain.Hours{Seconds: 60})
			if by := whose(back.Fact.No); by != "ada" {
				shop.Errorf("later: by %q", by)
			}
			_, err = shop.Forget(shop.ctx, "ada", "ada", "", "press", after(7))
			shop.refused("again within a day", err, domain.ForgottenLately)
			_, err = shop.Forget(shop.ctx, "ada", "ada", "", "press", after(30))
			shop.fails("forget again", err)
			if by := whose(back.Fact.No); by != former {
				shop.Errorf("forgotten again: by %q, before by %q", by, former)
			}
		}},
}
